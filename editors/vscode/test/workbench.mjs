// A real VS Code with the extension, and the hands of a user at it.
import { spawn, spawnSync } from "node:child_process";
import { mkdirSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { createRequire } from "node:module";
import { delimiter, join } from "node:path";

const installed = process.env.STAGEBOOK_VSCODE;
const { chromium } = createRequire(join(installed, "package.json"))("playwright-core");
const ENTRY = join(installed, "node_modules/code-server/out/node/entry.js");
/** A guard against hanging, not a measure of speed; in ms. */
const GUARD = 60_000;

const SETTINGS = {
  "chat.commandCenter.enabled": false,
  "editor.minimap.enabled": false,
  "extensions.autoCheckUpdates": false,
  "extensions.autoUpdate": false,
  "extensions.ignoreRecommendations": true,
  "files.autoSave": "off",
  "git.enabled": false,
  "security.workspace.trust.enabled": false,
  "telemetry.telemetryLevel": "off",
  "update.mode": "none",
  "window.restoreWindows": "none",
  "workbench.enableExperiments": false,
  "workbench.secondarySideBar.defaultVisibility": "hidden",
  "workbench.startupEditor": "none",
  "workbench.tips.enabled": false,
};

/** Starts browsers that draw what is shown. */
export function browser() {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: [
      "--no-sandbox",
      "--disable-gpu",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
      "--no-first-run",
    ],
  });
}

function freePort() {
  return new Promise((resolve, reject) => {
    const server = createServer();
    server.once("error", reject);
    server.listen(0, "127.0.0.1", () => {
      const { port } = server.address();
      server.close(() => resolve(port));
    });
  });
}

/**
 * Starts VS Code with an extension.
 *
 * @param work a folder for its data; `bin/` in it comes first on PATH
 * @param vsix the packed extension
 * @param folder the folder to open
 * @param options settings beside the usual ones, and width, height, scale of the window
 */
export async function start(work, vsix, folder, options = {}) {
  const data = join(work, "data");
  const places = ["--user-data-dir", data, "--extensions-dir", join(work, "extensions")];
  mkdirSync(join(data, "User"), { recursive: true });
  writeFileSync(
    join(data, "User/settings.json"),
    JSON.stringify({ ...SETTINGS, ...options.settings }),
  );
  const env = {
    ...process.env,
    PATH: join(work, "bin") + delimiter + process.env.PATH,
    VSCODE_CLI: "1", // else the login shell's PATH takes the place of this one
    XDG_CONFIG_HOME: join(work, "config"),
    XDG_CACHE_HOME: join(work, "cache"),
  };
  const install = spawnSync("node", [ENTRY, ...places, "--install-extension", vsix], {
    env,
    encoding: "utf8",
  });
  if (install.status !== 0) {
    throw new Error(`the extension could not be installed:\n${install.stdout}${install.stderr}`);
  }
  const port = await freePort();
  const switches = ["telemetry", "update-check", "workspace-trust", "getting-started-override"];
  const server = spawn(
    "node",
    [
      ENTRY,
      ...places,
      "--auth=none",
      `--bind-addr=127.0.0.1:${port}`,
      ...switches.map((name) => `--disable-${name}`),
      folder,
    ],
    { env, stdio: ["ignore", "pipe", "pipe"], detached: true },
  );
  let log = "";
  server.stdout.on("data", (data) => (log += data));
  server.stderr.on("data", (data) => (log += data));
  const stopServer = () => {
    try {
      process.kill(-server.pid, "SIGTERM"); // the whole group: extension host and language server too
    } catch {
      // It has ended already.
    }
  };
  process.once("exit", stopServer);
  const end = Date.now() + GUARD;
  while (!log.includes("HTTP server listening")) {
    if (server.exitCode !== null || Date.now() > end) {
      throw new Error(`the editor did not start:\n${log}`);
    }
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  const chromium = await browser();
  const page = await chromium.newPage({
    viewport: { width: options.width ?? 1400, height: options.height ?? 900 },
    deviceScaleFactor: options.scale ?? 1,
  });
  page.setDefaultTimeout(GUARD);
  const workbench = new Workbench(page, `http://127.0.0.1:${port}/`, async () => {
    await chromium.close();
    stopServer();
  });
  await workbench.openFolder(folder);
  await page.locator(".explorer-folders-view .monaco-list-row").first().waitFor();
  return workbench;
}

/** What a user does and sees. */
export class Workbench {
  constructor(page, address, stop) {
    this.page = page;
    this.address = address;
    this.stop = stop;
  }

  /** Opens a folder in place of the one that is open. */
  async openFolder(folder) {
    await this.page.goto(`${this.address}?folder=${encodeURIComponent(folder)}`);
    await this.page.locator(".monaco-workbench .explorer-folders-view").waitFor();
  }

  /** Opens a file by its name. */
  async open(name) {
    await this.pick("Control+P", name, name);
    await this.page.locator(".quick-input-widget").waitFor({ state: "hidden" });
    await this.page.locator(`.tab.active[data-resource-name="${name}"]`).waitFor();
    await this.page.locator(".editor-instance .view-line").first().waitFor();
  }

  /** Unfolds a view of the side bar. */
  async unfold(title) {
    const header = this.page.locator(`.pane-header[aria-label^="${title}"][aria-label$="Section"]`);
    await header.waitFor();
    if ((await header.getAttribute("aria-expanded")) === "false") {
      await header.click();
    }
  }

  /** Runs a command of the palette by its title, and takes a choice from the list that some of them open. */
  async command(title, choice) {
    await this.pick("F1", `>${title}`, title);
    if (choice) {
      const { page } = this;
      await page.locator(".quick-input-widget input.input").fill(choice);
      await page.locator(`.quick-input-list .monaco-list-row.focused[aria-label*="${choice}"]`).waitFor();
      await page.keyboard.press("Enter");
    }
    await this.page.locator(".quick-input-widget").waitFor({ state: "hidden" });
  }

  /**
   * Chooses the row with these words from a list opened by a key. The list is opened anew until the row is its first:
   * in a window just opened, commands and files come a moment later, and the list does not follow.
   */
  async pick(key, typed, words) {
    const { keyboard } = this.page;
    const widget = this.page.locator(".quick-input-widget");
    const row = this.page.locator(`.quick-input-list .monaco-list-row.focused[aria-label*="${words}"]`);
    const end = Date.now() + GUARD;
    for (;;) {
      await keyboard.press(key);
      await widget.locator("input.input").fill(typed);
      // What is shown before the typed words are taken in goes away again.
      await this.page.waitForTimeout(300);
      if (await row.waitFor({ timeout: 3_000 }).then(() => true, () => false)) {
        break;
      }
      if (Date.now() > end) {
        throw new Error(`expected ${words} in the list, found it not`);
      }
      await keyboard.press("Escape");
    }
    await keyboard.press("Enter");
  }

  /** Puts the cursor into a line and column, both from 1. */
  async goTo(line, column = 1) {
    await this.page.keyboard.press("Control+G");
    const box = this.page.locator(".quick-input-widget input.input");
    await box.fill(`:${line}:${column}`);
    await this.page.keyboard.press("Enter");
    await this.page.locator(".quick-input-widget").waitFor({ state: "hidden" });
  }

  /** The text of what is shown at a place of the window, blanks as blanks. */
  async text(selector) {
    const texts = await this.page.locator(selector).allInnerTexts();
    return texts.join("\n").replaceAll("\u00a0", " ");
  }

  /** Waits until what is shown at a place holds the words, and gives it all. */
  async see(selector, words) {
    const end = Date.now() + GUARD;
    let shown = "";
    while (Date.now() < end) {
      shown = await this.text(selector);
      if (words instanceof RegExp ? words.test(shown) : shown.includes(words)) {
        return shown;
      }
      await this.page.waitForTimeout(100);
    }
    throw new Error(`expected ${words} at ${selector}, found:\n${shown}`);
  }

  /** Waits until a page shown in a frame of its own holds the words. */
  async seeInFrame(words) {
    const end = Date.now() + GUARD;
    while (Date.now() < end) {
      for (const frame of this.page.frames()) {
        const shown = await frame.evaluate(() => document.body?.innerText ?? "").catch(() => "");
        if (shown.includes(words)) {
          return;
        }
      }
      await this.page.waitForTimeout(100);
    }
    throw new Error(`expected ${words} on a page, found none that holds it`);
  }

  /** The numbers of the lines that have a mark of this kind (`squiggly-error`, …) below their text. */
  async marked(kind) {
    return this.page.evaluate((kind) => {
      const numbers = [...document.querySelectorAll(".line-numbers")].map((element) => ({
        number: Number(element.textContent),
        box: element.getBoundingClientRect(),
      }));
      const lines = [...document.querySelectorAll(`.${kind}`)].map((element) => {
        const { top, height } = element.getBoundingClientRect();
        const middle = top + height / 2;
        return numbers.find(({ box }) => box.top <= middle && middle <= box.bottom)?.number;
      });
      return [...new Set(lines.filter((line) => line))].sort((a, b) => a - b);
    }, kind);
  }
}
