// `node make.mjs WORK INTO`: draws the pictures. WORK is laid out by ../vscode/test/prepare.
import { spawnSync } from "node:child_process";
import { readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { browser, start } from "../vscode/test/workbench.mjs";

const require = createRequire(join(process.env.STAGEBOOK_PICTURES, "package.json"));
const sharp = require("sharp");
const [work, into] = process.argv.slice(2);
const works = join(work, "kestrel-ford");
/** The most a picture may take, in bytes. */
const LARGEST = 200_000;

/** The lines of a faulty record, from now on without the marks of what should be found. */
function withoutMarks(name) {
  const file = join(works, name);
  const text = readFileSync(file, "utf8").replace(/ +#!.*$/gm, "");
  writeFileSync(file, text);
  return text.split("\n");
}

async function save(page, name, options) {
  const path = join(into, `${name}.png`);
  const picture = await page.screenshot(options);
  const { size } = await sharp(picture).png({ palette: true, quality: 90, effort: 10 }).toFile(path);
  console.log(`${name}.png: ${size} bytes`);
  if (size > LARGEST) {
    throw new Error(`${name}.png: expected at most ${LARGEST} bytes, found ${size}: draw less of the window`);
  }
}

async function inTheEditor() {
  const ratio = withoutMarks("faults/KFT-0413-1.ubr");
  // Only what is shown, so that the counts at the files and in the status bar belong to it.
  for (const name of readdirSync(join(works, "faults"))) {
    if (!/^(KFT-0413-1\.ubr|logs)$/.test(name)) {
      rmSync(join(works, "faults", name), { recursive: true });
    }
  }
  rmSync(join(works, "lot"), { recursive: true });
  rmSync(join(works, "making"), { recursive: true });
  rmSync(join(works, "make_examples.py"));
  const workbench = await start(work, join(work, "stagebook.vsix"), works, {
    width: 1240,
    height: 720,
    scale: 1.5,
    settings: {
      "breadcrumbs.enabled": false,
      "editor.fontSize": 13,
      "editor.renderLineHighlight": "none",
      "editor.scrollbar.vertical": "hidden",
      "editor.overviewRulerBorder": false,
      "editor.hideCursorInOverviewRuler": true,
      "workbench.activityBar.location": "hidden",
      "workbench.editor.editorActionsLocation": "hidden",
      "workbench.layoutControl.enabled": false,
      "window.commandCenter": false,
    },
  });
  const { page } = workbench;
  await page.addStyleTag({ content: ".cursors-layer { visibility: hidden }" });
  await workbench.open("KFT-0413-1.ubr");
  await page.locator(".squiggly-error").first().waitFor();
  await workbench.unfold("Stages");
  await page.locator('.pane [role="treeitem"][aria-label^="winding: "]').waitFor();

  // The files have been opened: the room is for the stages.
  await page.locator('.pane-header[aria-label^="Explorer Section"]').click();
  await page.mouse.move(700, 5);
  // One turn too many in phase V: the finding stands where it is worst.
  const worst = ratio.findIndex((words) => words.includes("3.2169  3.2047")) + 1;
  await workbench.goTo(worst + 40);
  await workbench.goTo(worst, ratio[worst - 1].indexOf("3.2047") + 2);
  await page.keyboard.press("Control+K");
  await page.keyboard.press("Control+I");
  await page.locator(".monaco-hover:visible").first().waitFor();
  await page.waitForTimeout(1000);
  await save(page, "finding");
  await page.keyboard.press("Escape");

  await workbench.open("KFT-0415-1.ubr");
  const record = readFileSync(join(works, "units/KFT-0415-1.ubr"), "utf8").split("\n");
  await workbench.goTo(record.findIndex((words) => words.startsWith("stage connections")) + 14);
  await page.locator('.pane [role="treeitem"][aria-label^="connections: "]').waitFor();
  await page.waitForTimeout(1500);
  await save(page, "stages");
  await workbench.stop();
}

/** Draws what the program writes to a terminal, by the terminal of a browser. */
async function inTheTerminal(name, line, columns) {
  const { stdout, stderr } = spawnSync("sh", ["-c", line], {
    cwd: works,
    encoding: "utf8",
    env: { ...process.env, PATH: `${join(work, "bin")}:${process.env.PATH}`, CLICOLOR_FORCE: "1", FORCE_COLOR: "1", COLUMNS: `${columns}`, TERM: "xterm-256color", LANG: "C.UTF-8" },
  });
  const text = `\x1b[2m$\x1b[0m ${line}\n${stdout}${stderr}`.trimEnd().replaceAll("\n", "\r\n");
  const script = require.resolve("@xterm/xterm");
  const style = join(script, "../../css/xterm.css");
  const chromium = await browser();
  const page = await chromium.newPage({ viewport: { width: 1600, height: 2400 }, deviceScaleFactor: 1.5 });
  await page.setContent('<body style="margin:0"><div id="screen" style="display:inline-block;padding:12px 16px;background:#fbfaf7"></div></body>');
  await page.addStyleTag({ path: style });
  await page.addScriptTag({ path: script });
  await page.evaluate(
    ({ text, columns }) =>
      new Promise((resolve) => {
        const terminal = new window.Terminal({
          cols: columns,
          rows: 1,
          scrollback: 0,
          fontFamily: "DejaVu Sans Mono, monospace",
          fontSize: 13,
          cursorInactiveStyle: "none",
          theme: {
            background: "#fbfaf7", foreground: "#24292f", cursor: "#fbfaf7",
            red: "#b3261e", green: "#1a7f37", yellow: "#8a5a00", blue: "#0550ae", magenta: "#7d3c98", cyan: "#0b6b75",
            brightRed: "#b3261e", brightGreen: "#1a7f37", brightYellow: "#8a5a00", brightBlue: "#0550ae",
            brightMagenta: "#7d3c98", brightCyan: "#0b6b75", brightBlack: "#6e7781",
          },
        });
        terminal.open(document.getElementById("screen"));
        terminal.resize(columns, 200);
        terminal.write(text, () => {
          terminal.resize(columns, terminal.buffer.active.cursorY + 1);
          setTimeout(resolve, 500);
        });
      }),
    { text, columns },
  );
  const box = await page.locator("#screen").boundingBox();
  await save(page, name, { clip: box });
  await chromium.close();
}

const wanted = process.env.PICTURES?.split(",");
if (!wanted || wanted.includes("terminal")) {
  await inTheTerminal("status", "stagebook status units/KFT-0415-1.ubr", 128);
  withoutMarks("lot/KFT-0440-3.ubr");
  await inTheTerminal("check", "stagebook check lot/KFT-0440-3.ubr", 104);
}
if (!wanted || wanted.includes("editor")) {
  await inTheEditor();
}
