// Where the program is: by the setting, else in the extension, else on PATH.
import { accessSync, constants, statSync } from "node:fs";
import { homedir } from "node:os";
import { delimiter, isAbsolute, join } from "node:path";

/** A program that was found, or what to tell the user where none was. */
export type Found = { program: string } | { fault: string };

/**
 * Finds the program.
 *
 * @param setting value of the setting `stagebook.server.path`, empty for none
 * @param extension folder of the extension
 * @param path value of the environment variable PATH
 */
export function findServer(setting: string, extension: string, path: string): Found {
  const name = process.platform === "win32" ? "stagebook.exe" : "stagebook";
  const given = setting.trim();
  if (given !== "") {
    const program = given.replace(/^~(?=[\\/])/, homedir());
    if (isAbsolute(program) && isProgram(program)) {
      return { program };
    }
    return {
      fault: isAbsolute(program)
        ? `The setting stagebook.server.path names ${program}, where no program is that can be run. Correct it, or empty it to take the one on PATH.`
        : `The setting stagebook.server.path must be an absolute path or begin with ~/, and is ${given}. Correct it, or empty it to take the one on PATH.`,
    };
  }
  // A relative entry of PATH would let an opened folder choose what is run.
  const folders = [join(extension, "bin"), ...path.split(delimiter).filter(isAbsolute)];
  const program = folders.map((folder) => join(folder, name)).find(isProgram);
  if (program !== undefined) {
    return { program };
  }
  return {
    fault:
      "The program stagebook was found neither in the extension nor on PATH. Install it, or give its path in the setting stagebook.server.path.",
  };
}

function isProgram(file: string): boolean {
  try {
    accessSync(file, constants.X_OK);
    return statSync(file).isFile();
  } catch {
    return false;
  }
}
