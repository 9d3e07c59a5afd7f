#!/usr/bin/env node
import { writeFile } from "node:fs/promises";
import { addDemo } from "./cli/demo/command.js";
import { addDoseCard } from "./cli/dose-card/command.js";
import { addForecast } from "./cli/forecast/command.js";
import { addImport } from "./cli/import/command.js";
import { exitCodeOf } from "./cli/program.js";
import { addSendTest } from "./cli/send-test/command.js";

/** Every command of the program; a new one is one line. */
const COMMANDS = [addDemo, addImport, addForecast, addDoseCard, addSendTest];

process.exitCode = await exitCodeOf(process.argv.slice(2), COMMANDS, {
	out: (text) => process.stdout.write(text),
	err: (text) => process.stderr.write(text),
	write: (path, text) => writeFile(path, text),
});
