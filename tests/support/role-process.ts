import { type ChildProcess, spawn } from "node:child_process";
import { join } from "node:path";

interface Told {
	readonly status: number;
	// biome-ignore lint/suspicious/noExplicitAny: what a test expects of it, it says itself
	readonly body: any;
}

/** Of what a process says, the last so many are kept. */
const KEPT_CHARACTERS = 100_000;

/** A process of the built program, started as the image starts it, with an environment that is given in full. */
export class RoleProcess {
	private readonly child: ChildProcess;
	private readonly ended: Promise<number | string | null>;
	private said = "";
	/** Where it listens; none: it has no interface. */
	address: string | undefined;

	constructor(private readonly environment: Readonly<Record<string, string>>) {
		this.child = spawn(process.execPath, [join(__dirname, "../../dist/src/main.js")], {
			env: { PATH: process.env["PATH"], NODE_ENV: "production", ...environment },
			stdio: ["ignore", "pipe", "pipe"],
		});
		const keep = (text: Buffer) => {
			this.said = (this.said + text).slice(-KEPT_CHARACTERS);
		};
		this.child.stdout?.on("data", keep);
		this.child.stderr?.on("data", keep);
		// Only when all that it said has come: the last lines say why.
		this.ended = new Promise((resolve) => this.child.once("close", (code, signal) => resolve(signal ?? code)));
	}

	get pid(): number {
		return this.child.pid as number;
	}

	/** How it ended; none: it stands. */
	get ending(): number | string | undefined {
		return this.child.signalCode ?? this.child.exitCode ?? undefined;
	}

	/** The last that it said. */
	get words(): string {
		return this.said;
	}

	/** Resolves when it says that it is ready; throws with what it said where it ends before. */
	async ready(): Promise<void> {
		const line = await this.says('"msg":"ready"');
		this.address = (JSON.parse(line) as { address?: string }).address;
	}

	/** @returns the line in which it says so, as soon as it does; throws with what it said where it ends before */
	async says(words: string): Promise<string> {
		const isSaid = new Promise<{ line: string }>((resolve) => {
			const look = () => {
				const line = this.said.split("\n").find((each) => each.includes(words));
				if (!line) return;
				this.child.stdout?.off("data", look);
				resolve({ line });
			};
			this.child.stdout?.on("data", look);
			look();
		});
		const told = await Promise.race([isSaid, this.ended]);
		if (typeof told !== "object" || told === null)
			throw new Error(`${this.environment["JARWATCH_ROLES"]} ended with ${told}: ${this.said}`);
		return told.line;
	}

	/** @param body a text goes as CSV, anything else as JSON; @param headers left out: with the key that it was started with */
	async ask(
		method: "GET" | "POST",
		path: string,
		body?: unknown,
		headers: Readonly<Record<string, string>> = { authorization: `Bearer ${this.environment["JARWATCH_API_KEY"]}` },
	): Promise<Told> {
		const type = typeof body === "string" ? "text/csv" : "application/json";
		const response = await fetch(`${this.address}${path}`, {
			method,
			headers: { ...headers, ...(body === undefined ? {} : { "content-type": type }) },
			...(body === undefined ? {} : { body: typeof body === "string" ? body : JSON.stringify(body) }),
		});
		return { status: response.status, body: await response.json() };
	}

	/** Ends it in order. @returns the signal that it then lets end it, or its exit code */
	async end(): Promise<number | string | null> {
		this.child.kill("SIGTERM");
		return this.ended;
	}

	async kill(): Promise<void> {
		this.child.kill("SIGKILL");
		await this.ended;
	}
}
