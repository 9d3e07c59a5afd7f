import { execFile } from "node:child_process";
import { chownSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";

/** How a server is stopped: after its sessions were ended, or at once, so that it must look through its log at the next start. */
export type StopMode = "fast" | "immediate";

/** A PostgreSQL of a test's own, that may be stopped without harm to anybody. */
export class OwnPostgres {
	private readonly folder = mkdtempSync(join(tmpdir(), "jarwatch-postgres-"));

	/** @param options of the server, name=value */
	constructor(
		private readonly port: number,
		private readonly options: readonly string[] = [],
	) {}

	/** @returns why there can't be one on this machine; nothing where there can */
	static absent(): string | undefined {
		if (!program("initdb") || !program("pg_ctl"))
			return "the programs initdb and pg_ctl aren't here (apt-get install postgresql; JARWATCH_TEST_POSTGRES_PROGRAMS names their folder)";
		if (isRoot() && !postgresUser())
			return "PostgreSQL doesn't run as root, and there is no user named postgres in whose name it could";
		return undefined;
	}

	/** Of a database that is there from the first start on. */
	get url(): string {
		return `postgres://postgres@127.0.0.1:${this.port}/postgres`;
	}

	async create(): Promise<void> {
		const user = postgresUser();
		if (isRoot() && user) chownSync(this.folder, user.uid, user.gid);
		await this.run("initdb", "-D", this.data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale", "C", "--no-sync");
		await this.start();
	}

	async start(): Promise<void> {
		const given = [`port=${this.port}`, "listen_addresses=127.0.0.1", `unix_socket_directories=${this.folder}`, ...this.options];
		const options = given.map((each) => `-c ${each}`).join(" ");
		await this.run("pg_ctl", "-D", this.data, "-l", join(this.folder, "log"), "-o", options, "-w", "-t", "120", "start");
	}

	async stop(mode: StopMode): Promise<void> {
		await this.run("pg_ctl", "-D", this.data, "-m", mode, "-w", "-t", "120", "stop");
	}

	async remove(): Promise<void> {
		await this.stop("immediate").catch(() => undefined);
		rmSync(this.folder, { recursive: true, force: true });
	}

	private get data(): string {
		return join(this.folder, "data");
	}

	private async run(name: "initdb" | "pg_ctl", ...given: string[]): Promise<void> {
		const user = isRoot() ? postgresUser() : undefined;
		// Its output goes nowhere: a server that keeps it open would keep whoever reads it waiting.
		await promisify(execFile)(
			"/bin/sh",
			["-c", 'exec "$0" "$@" > /dev/null 2>&1 < /dev/null', program(name) as string, ...given],
			{
				cwd: this.folder,
				...(user && { uid: user.uid, gid: user.gid }),
			},
		);
	}
}

const isRoot = () => process.getuid?.() === 0;

function program(name: string): string | undefined {
	const versions = "/usr/lib/postgresql";
	const folders = [
		...[process.env["JARWATCH_TEST_POSTGRES_PROGRAMS"] ?? []].flat(),
		...(process.env["PATH"] ?? "").split(":"),
		...(existsSync(versions) ? readdirSync(versions).map((version) => join(versions, version, "bin")) : []),
	];
	return folders.map((folder) => join(folder, name)).find((path) => existsSync(path));
}

/** The user in whose name a server runs where the tests are root's. Source: passwd(5) */
function postgresUser(): { readonly uid: number; readonly gid: number } | undefined {
	const line = readFileSync("/etc/passwd", "utf8")
		.split("\n")
		.find((each) => each.startsWith("postgres:"));
	const [, , uid, gid] = line?.split(":") ?? [];
	return uid && gid ? { uid: Number(uid), gid: Number(gid) } : undefined;
}
