#!/usr/bin/env node
import { writeFile } from "node:fs/promises";
import { addAdministrator } from "./cli/administrator/command.js";
import { addBackup } from "./cli/backup/command.js";
import { addCoverage } from "./cli/coverage/command.js";
import { addDemo } from "./cli/demo/command.js";
import { addDoseCard } from "./cli/dose-card/command.js";
import { addExport } from "./cli/export/command.js";
import { addFailedMessages } from "./cli/failed-messages/command.js";
import { addForecast } from "./cli/forecast/command.js";
import { addImport } from "./cli/import/command.js";
import { addLedger } from "./cli/ledger/command.js";
import { addPerson } from "./cli/person/command.js";
import { exitCodeOf } from "./cli/program.js";
import { addReport } from "./cli/report/command.js";
import { addReseal } from "./cli/reseal/command.js";
import { addAfterRestore, addRestore } from "./cli/restore/command.js";
import { addSendTest } from "./cli/send-test/command.js";
import { addSimulate } from "./cli/simulate/command.js";
import { addWithheld } from "./cli/withheld/command.js";

/** Every command of the program; a new one is one line. */
const COMMANDS = [
	addDemo,
	addImport,
	addAdministrator,
	addForecast,
	addDoseCard,
	addSendTest,
	addFailedMessages,
	addCoverage,
	addExport,
	addReport,
	addLedger,
	addSimulate,
	addPerson,
	addReseal,
	addBackup,
	addRestore,
	addAfterRestore,
	addWithheld,
];

process.exitCode = await exitCodeOf(process.argv.slice(2), COMMANDS, {
	out: (text) => process.stdout.write(text),
	err: (text) => process.stderr.write(text),
	write: (path, text) => writeFile(path, text),
});
