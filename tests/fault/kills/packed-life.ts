import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

const SUPPORT = join(__dirname, "../../support");
const LIFE = join(__dirname, "one-life.ts");
/** What a process loads by itself once it knows its database, and what only one with Redis does. */
const LATER = ["../../../src/store/watched-client.js"];
const WITH_REDIS = "../../../src/queue/bullmq.js";

let folder: string | undefined;

/** @returns what Node is called with for a process of the program, from its source as it stands; it is packed once a test file */
export function packedLife(withRedis: boolean): string[] {
	folder ??= mkdtempSync(join(tmpdir(), "jarwatch-packed-"));
	const into = join(folder, withRedis ? "with-redis" : "alone");
	if (!packed.has(into)) {
		execFileSync(process.execPath, [join(SUPPORT, "pack.cjs"), LIFE, into, ...LATER, ...(withRedis ? [WITH_REDIS] : [])]);
		packed.add(into);
	}
	// Young garbage is left alone for as long as such a process lives.
	return ["--max-semi-space-size=64", join(SUPPORT, "packed.cjs"), into];
}

const packed = new Set<string>();

export function removePackedLife(): void {
	if (folder !== undefined) rmSync(folder, { recursive: true, force: true });
	folder = undefined;
	packed.clear();
}
