import { type ChildProcess, spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { type AddressInfo, createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Redis } from "ioredis";

/** A Redis of a test's own, that may be stopped and emptied without harm to anybody. */
export class OwnRedis {
	private child: ChildProcess | undefined;
	private readonly folder = mkdtempSync(join(tmpdir(), "jarwatch-redis-"));

	/** @param options of redis-server; left out: it keeps nothing */
	constructor(
		private readonly port: number,
		private readonly options: readonly string[] = ["--save", "", "--appendonly", "no"],
	) {}

	get url(): string {
		return `redis://127.0.0.1:${this.port}`;
	}

	async start(): Promise<void> {
		const where = ["--port", String(this.port), "--bind", "127.0.0.1", "--dir", this.folder];
		this.child = spawn("redis-server", [...this.options, ...where], { stdio: "ignore" });
		const probe = new Redis(this.url, { retryStrategy: () => 50, maxRetriesPerRequest: null });
		probe.on("error", () => undefined);
		await probe.ping();
		probe.disconnect();
	}

	async empty(): Promise<void> {
		const redis = new Redis(this.url);
		await redis.flushall();
		redis.disconnect();
	}

	async kill(): Promise<void> {
		const gone = new Promise((resolve) => this.child?.once("exit", resolve));
		this.child?.kill("SIGKILL");
		await gone;
	}

	async remove(): Promise<void> {
		await this.kill();
		rmSync(this.folder, { recursive: true, force: true });
	}
}

export async function freePort(): Promise<number> {
	const server = createServer();
	await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
	const { port } = server.address() as AddressInfo;
	await new Promise((resolve) => server.close(resolve));
	return port;
}
