import { execFileSync, spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type Figure, median } from "./figure.js";

const PORT = 18_973;

/** From the start of the process to the first answered request, with the demonstration's database. */
export async function run(): Promise<Figure[]> {
	const folder = mkdtempSync(join(tmpdir(), "jarwatch-start-"));
	execFileSync(process.execPath, ["dist/src/cli.js", "demo", "--once", "--quiet", "--data", folder], { stdio: "ignore" });
	const times: number[] = [];
	for (let round = 0; round < 5; round++) {
		const began = performance.now();
		const child = spawn(process.execPath, ["dist/src/main.js"], {
			env: {
				...process.env,
				JARWATCH_DATA_FOLDER: folder,
				JARWATCH_PORT: String(PORT),
				JARWATCH_LOG_LEVEL: "silent",
				JARWATCH_NOTIFIERS: "file",
			},
			stdio: "ignore",
		});
		const gone = new Promise((resolve) => child.once("exit", resolve));
		for (;;) {
			try {
				if ((await fetch(`http://127.0.0.1:${PORT}/health/live`)).ok) break;
			} catch {
				await new Promise((resolve) => setTimeout(resolve, 5));
			}
		}
		times.push(performance.now() - began);
		child.kill("SIGTERM");
		await gone;
	}
	rmSync(folder, { recursive: true });
	return [{ name: "process start to the first answer", value: median(times), floor: 2000, unit: "ms", bar: "under 2000 ms" }];
}
