// Runs the commands that the documents give, so that they stay true. Every fenced sh block bears a mark in a comment above it:
//   <!-- runs -->            it is run and must succeed
//   <!-- serves: URL -->     it is started, the URL must answer 200, then it is stopped and must end well
//   <!-- not run: reason --> it isn't run here, and the reason says why
// `npm ci &&` at the beginning is left out: whoever runs this has just done it.
import { spawn } from "node:child_process";
import { readFileSync } from "node:fs";

const FENCE = /(?:<!-- (runs|serves: (\S+)|not run: ([^>]+?)) -->\s*)?```sh\n([\s\S]*?)```/g;

function blocksOf(file) {
	return [...readFileSync(file, "utf8").matchAll(FENCE)].map(([, mark, url, reason, body]) => ({
		file,
		how: mark === "runs" ? "runs" : url ? "serves" : reason ? "not run" : "unmarked",
		url,
		reason,
		script: body.trim().replace(/^npm ci && /, ""),
	}));
}

function started(script) {
	return spawn("bash", ["-euo", "pipefail", "-c", script], { stdio: ["ignore", "pipe", "inherit"], detached: true });
}

const ended = (child) => new Promise((resolve) => child.once("exit", (code, signal) => resolve(code ?? signal)));

async function answers(url, child) {
	for (let tried = 0; tried < 600 && child.exitCode === null; tried++) {
		try {
			if ((await fetch(url)).status === 200) return true;
		} catch {
			// Not listening yet.
		}
		await new Promise((resolve) => setTimeout(resolve, 200));
	}
	return false;
}

async function isTaken(url) {
	try {
		await fetch(url);
		return true;
	} catch {
		return false;
	}
}

/** @returns what was wrong, or nothing */
async function problemOf({ how, url, script }) {
	if (how === "unmarked") return "has no mark that says whether it is run";
	if (how === "serves" && (await isTaken(url))) return `can't be tried: something else answers at ${url} already`;
	const child = started(script);
	child.stdout.resume();
	const end = ended(child);
	if (how === "runs") {
		const code = await end;
		return code === 0 ? undefined : `ended with ${code}`;
	}
	const up = await answers(url, child);
	if (child.exitCode === null) process.kill(-child.pid, "SIGINT");
	const code = await end;
	if (!up) return `${url} didn't answer 200`;
	return code === 0 || code === 130 || code === "SIGINT" ? undefined : `was stopped and ended with ${code}`;
}

let failures = 0;
for (const block of process.argv.slice(2).flatMap(blocksOf)) {
	const name = `${block.file}: ${block.script.split("\n")[0]}`;
	if (block.how === "not run") {
		console.log(`left out   ${name} (${block.reason})`);
		continue;
	}
	const problem = await problemOf(block);
	console.log(`${problem ? "WRONG     " : "true      "} ${name}${problem ? `: ${problem}` : ""}`);
	if (problem) failures += 1;
}
process.exitCode = failures > 0 ? 1 : 0;
