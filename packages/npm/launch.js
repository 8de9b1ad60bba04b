#!/usr/bin/env node
// Stands in for the program of the platform package: the same arguments, streams, signals and exit status.
"use strict";

const { spawn } = require("node:child_process");
const { optionalDependencies } = require("../package.json");

/** What the program itself ends with when it could not run. */
const COULD_NOT_RUN = 2;

/** Signals that ask a process to end; whoever sends one to this process means the program. */
const SIGNALS = ["SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT"];

/**
 * The program of the package for this platform, or undefined where none is installed. npm installs only what fits
 * the machine, its C library included, so the first that is there is the right one.
 */
function find() {
  const platform = `${process.platform}-${process.arch}`;
  const program = process.platform === "win32" ? "stagebook.exe" : "stagebook";
  for (const name of [platform, `${platform}-musl`]) {
    try {
      return require.resolve(`@stagebook/${name}/bin/${program}`);
    } catch (error) {
      if (error.code !== "MODULE_NOT_FOUND") throw error;
    }
  }
  return undefined;
}

/** One sentence on standard error, and the exit status of a program that could not run. */
function giveUp(sentence) {
  process.stderr.write(`stagebook: ${sentence}\n`);
  process.exitCode = COULD_NOT_RUN;
}

function run(program) {
  let child;
  const pass = (signal) => child.kill(signal);
  // Before the start, so that no signal finds this process without a handler while the program already runs.
  for (const signal of SIGNALS) process.on(signal, pass);
  child = spawn(program, process.argv.slice(2), { stdio: "inherit" });
  child.on("error", (error) => giveUp(`${program} cannot be started (${error.message}): install the package anew`));
  child.on("exit", (status, signal) => {
    if (signal === null) {
      process.exitCode = status;
      return;
    }
    // The program was ended by a signal: this process ends in the same way, so that the caller sees it.
    process.removeAllListeners(signal);
    process.kill(process.pid, signal);
  });
}

const program = find();
if (program === undefined) {
  const packaged = Object.keys(optionalDependencies ?? {}).join(", ");
  giveUp(
    `expected a package with the program for ${process.platform}-${process.arch}, found none installed: ` +
      `install the one for this platform (this version has ${packaged}), ` +
      "or build the program from its source with `cargo install --path .`",
  );
} else {
  run(program);
}
