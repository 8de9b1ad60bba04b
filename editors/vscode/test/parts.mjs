// What needs no editor: how the program is found, what the outline tells, and that what the extension writes for the
// user (snippets, first documents) is taken by the program. `node parts.mjs WORK`; STAGEBOOK is the program.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { chmodSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { buildSync } from "esbuild";

const here = join(dirname(fileURLToPath(import.meta.url)), "..");
const work = join(process.argv[2], "parts");
mkdirSync(work, { recursive: true });

async function part(name) {
  const outfile = join(work, `${name}.mjs`);
  buildSync({ entryPoints: [join(here, `src/${name}.ts`)], outfile, bundle: true, platform: "node", format: "esm" });
  return import(pathToFileURL(outfile));
}

// The program: setting, extension, PATH, in this order; nothing that is no program, nothing relative.
const { findServer } = await part("server");
const place = (folder, name = "stagebook", mode = 0o755) => {
  mkdirSync(join(work, folder), { recursive: true });
  const file = join(work, folder, name);
  writeFileSync(file, "");
  chmodSync(file, mode);
  return file;
};
const onPath = place("path");
const own = place("own");
const bundled = place("with/bin");
place("dull", "stagebook", 0o644);
const path = [".", join(work, "dull"), join(work, "path")].join(":");
assert.deepEqual(findServer("", join(work, "without"), path), { program: onPath });
assert.deepEqual(findServer("", join(work, "with"), path), { program: bundled });
assert.deepEqual(findServer(` ${own} `, join(work, "with"), path), { program: own });
assert.match(findServer("", work, ".").fault, /neither in the extension nor on PATH.*stagebook\.server\.path/s);
assert.match(findServer(join(work, "none"), work, path).fault, /none, where no program is/);
assert.match(findServer("stagebook", work, path).fault, /must be an absolute path/);

// The stages, from the outline and the lenses.
const { countsOf, iconOf, stagesOf, unitOf } = await part("outline");
const at = (line) => ({ start: { line, character: 0 } });
const from = (line) => ({ ...at(line), end: { line: line + 1, character: 0 } });
const symbol = (name, line, detail, children) => ({ name, detail, range: from(line), selectionRange: at(line), children });
const outline = [
  symbol("unit T-1", 0),
  symbol("stage winding", 4, "complete, 3 recorded", [symbol("release H10", 9)]),
  symbol("stage drying", 12, "in progress, 2 recorded, 1 missing"),
  // Not begun: behind the last line, which may be that of another stage.
  { ...symbol("stage tanking", 12, "not started, 0 recorded, 4 pending"), range: { ...at(12), end: at(12).start } },
];
const lenses = [
  { range: at(4), command: { title: "complete, 3 recorded · H10 done" } },
  { range: at(12), command: { title: "in progress, 2 recorded, 1 missing · W20 open · H20 open" } },
];
assert.equal(unitOf(outline), "T-1");
assert.equal(unitOf([symbol("plan unit x", 0)]), undefined);
const stages = stagesOf(outline, lenses);
assert.deepEqual(
  stages.map((stage) => [stage.name, stage.points.map((point) => [point.name, point.state, point.place.line])]),
  [["winding", [["H10", "done", 9]]], ["drying", [["W20", "open", 12], ["H20", "open", 12]]], ["tanking", []]],
);
assert.deepEqual(stagesOf(outline, [])[0].points, [{ name: "H10", state: undefined, place: { line: 9, character: 0 } }]);
assert.deepEqual(stages.map((stage) => iconOf(stage.standing)[0]), ["pass", "error", "circle-outline"]);

assert.equal(countsOf("in progress, 25 recorded, 58 pending, 1 failing"), "1 failing, 58 pending, 25 recorded");
assert.equal(countsOf("does not apply"), "does not apply");

// Each setting says what it does, and the server's stand here with the defaults that the main README gives them.
const manifest = JSON.parse(readFileSync(join(here, "package.json"), "utf8"));
const { properties } = manifest.contributes.configuration;
for (const [name, setting] of Object.entries(properties)) {
  assert.match(setting.markdownDescription, /\w.*\.$/, name);
  assert.ok(!setting.enum || setting.enumDescriptions.length === setting.enum.length, name);
}
const readme = readFileSync(join(process.env.STAGEBOOK_TOP, "README.md"), "utf8");
const rows = readme.match(/\| setting \| default \|.*\n\|.*\n((?:\|.*\n)+)/)[1].trim().split("\n");
const told = rows.flatMap((row) => {
  const [names, defaults] = row.split("|").slice(1, 3).map((cell) => cell.match(/`[^`]+`/g).map((word) => word.slice(1, -1)));
  return names.map((name, place) => {
    const whole = name.startsWith(".") ? names[0].replace(/\.[^.]*$/, name) : name;
    return [whole, JSON.parse(defaults[place])];
  });
});
assert.ok(told.length > 8, rows);
for (const [name, value] of told.filter(([name]) => name !== "documents")) {
  assert.deepEqual(properties[`stagebook.${name}`]?.default, value, name);
}

// What is written for the user.
const check = (folder) => {
  const { stdout, stderr } = spawnSync(process.env.STAGEBOOK, ["check", "--as", "json", folder], { encoding: "utf8" });
  assert.equal(stderr, "");
  return JSON.parse(stdout).findings.filter((finding) => finding.severity !== "pending");
};
assert.deepEqual(check(join(here, "first")), []);

const snippets = JSON.parse(readFileSync(join(here, "snippets/ubr.json"), "utf8"));
const VARIABLES = {
  CURRENT_YEAR: "2026", CURRENT_MONTH: "03", CURRENT_DATE: "09", CURRENT_HOUR: "10", CURRENT_MINUTE: "15", TM_FILENAME_BASE: "T-2",
};
const used = new Set();
/** A snippet as it stands when nothing is typed into its places, indented by so many levels. */
function typed(name, level = 0) {
  used.add(name);
  let text = snippets[name].body.join("\n");
  text = text.replace(/\$\{(\w+):[^${}]*\}|\$(\w+)/g, (whole, a, b) => VARIABLES[a ?? b] ?? whole);
  text = text.replace(/\$\{(\d+)\|([^,|]*)[^|]*\|\}/g, "$${$1:$2}");
  const values = {};
  text = text.replace(/\$\{(\d+):([^{}]*)\}/g, (_, place, value) => (values[place] = value));
  text = text.replace(/\$(\d+)/g, (_, place) => values[place] ?? "");
  assert.ok(!text.includes("$"), text);
  return text.trimEnd().replace(/^/gm, "  ".repeat(level)) + "\n";
}
const documents = {
  "plan.ubr":
    typed("First plan") + typed("Calculated value", 1) + typed("Check", 1) + typed("Witness point", 1) + "\n" +
    typed("Stage of a plan") + typed("Reading of a plan", 1) + typed("Hold point", 1).replace("H20", "H30"),
  "register.ubr":
    typed("First register") + "\n" + typed("Person") + "\n" + typed("Instrument") +
    '\nperson C.Moreau "Claire Moreau"\n  roles customer\n',
  "T-2.ubr":
    typed("First unit") + typed("Table", 1) + typed("Notified", 1).replace("2026-03-09", "2026-03-01") + typed("Witnessed", 1) + typed("Release", 1) + "\n" +
    typed("Nonconformity") + typed("Disposition agreed and closed", 1),
  "T-3.ubr":
    typed("First unit").replace("T-2", "T-3").replace(/stage winding[^]*/, "") + typed("Stage") +
    typed("Reading", 1).replace("1613 mm", "1631 mm") + typed("Amendment", 1),
};
mkdirSync(join(work, "snippets"));
for (const [name, text] of Object.entries(documents)) {
  writeFileSync(join(work, "snippets", name), text);
}
assert.deepEqual(Object.keys(snippets).filter((name) => !used.has(name)), [], "a snippet that is not tried");
assert.deepEqual(check(join(work, "snippets")), []);
console.log("program, stages, first documents and snippets: as they should be");
