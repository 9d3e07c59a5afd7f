import "reflect-metadata";
import { InputError } from "./errors/errors.js";
import { startedService } from "./service.js";
import { settingsFrom } from "./settings/settings.js";

try {
	await startedService(settingsFrom(process.env));
} catch (error) {
	// Nothing runs yet that could log: what was wrong and what would be right goes to the person who started it.
	process.stderr.write(`${error instanceof InputError ? error.message : (error as Error).stack}\n`);
	process.exitCode = 1;
}
