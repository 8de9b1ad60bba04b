// Bundles the extension into one file and puts the grammar of the repository beside it.
import { build } from "esbuild";
import { copyFileSync, mkdirSync, rmSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const dist = join(here, "dist");
rmSync(dist, { recursive: true, force: true });
mkdirSync(dist);
await build({
  absWorkingDir: here,
  entryPoints: ["src/extension.ts"],
  outfile: "dist/extension.js",
  bundle: true,
  external: ["vscode"],
  format: "cjs",
  legalComments: "eof",
  minify: true,
  platform: "node",
  target: "node18",
});
copyFileSync(
  join(here, "../../grammar/textmate/ubr.tmLanguage.json"),
  join(dist, "ubr.tmLanguage.json"),
);
copyFileSync(join(here, "../../LICENSE"), join(here, "LICENSE"));
