import "reflect-metadata";
import { InputError, TransientError } from "./errors/errors.js";
import { startedService } from "./service.js";
import { settingsFrom } from "./settings/settings.js";

try {
	await startedService(settingsFrom(process.env));
} catch (error) {
	// Nothing runs yet that could log: what was wrong and what would be right goes to the person who started it.
	const isTold = error instanceof InputError || error instanceof TransientError;
	process.stderr.write(`${isTold ? error.message : (error as Error).stack}\n`);
	// What was put together before may hold on, such as a line to Redis: a process that will never work must end, so that it is started again.
	process.exit(1);
}
