// Packs the extension: `node package.mjs [--target PLATFORM --program FILE] [--out FILE]`. With a program it is
// bundled in `bin/`, and the package is for that platform only (win32-x64, linux-x64, darwin-arm64, …).
import { createVSIX } from "@vscode/vsce";
import { spawnSync } from "node:child_process";
import { chmodSync, copyFileSync, mkdirSync, rmSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";

const here = dirname(fileURLToPath(import.meta.url));
const { values } = parseArgs({
  options: {
    target: { type: "string" },
    program: { type: "string" },
    out: { type: "string", default: "stagebook.vsix" },
  },
});
if ((values.target === undefined) !== (values.program === undefined)) {
  console.error("package.mjs: expected --target and --program together, found one of them: give both or none");
  process.exit(2);
}
const bin = join(here, "bin");
rmSync(bin, { recursive: true, force: true });
if (values.program !== undefined) {
  mkdirSync(bin);
  const name = values.target.startsWith("win32") ? "stagebook.exe" : "stagebook";
  copyFileSync(resolve(values.program), join(bin, name));
  chmodSync(join(bin, name), 0o755);
  // Its tables for a debugger are two thirds of it. Where no `strip` for that platform is there it is packed as it is.
  if (!values.target.startsWith("win32")) {
    const { status, stderr, error } = spawnSync("strip", [join(bin, name)], { encoding: "utf8" });
    if (status !== 0) {
      console.error(`packed with its tables for a debugger: strip did not run (${(error?.message ?? stderr).trim()})`);
    }
  }
}
await import("./build.mjs");
try {
  await createVSIX({
    cwd: here,
    packagePath: resolve(values.out),
    dependencies: false, // all of it is in the bundle
    allowMissingRepository: true,
    target: values.target,
  });
} finally {
  rmSync(bin, { recursive: true, force: true });
}
