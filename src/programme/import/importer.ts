import { tmpdir } from "node:os";
import { join } from "node:path";
import { type CountryCode, isSupportedCountry } from "libphonenumber-js";
import { DefectError, InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import type { Store } from "../../store/store.js";
import { only, type Transaction } from "../../store/unit-of-work.js";
import type { Clock } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { currentPolicy } from "../policy.js";
import { CHUNK_ROWS, type CheckedRow, checkedRows, type Reading } from "./checked.js";
import type { ImportKind } from "./kind.js";
import { suggestion } from "./nearest.js";
import type { Query } from "./references.js";
import { type ImportReport, Problems } from "./report.js";
import { RowsSetAside } from "./set-aside.js";
import { type Source, type Spool, spooled } from "./spool.js";
import { entriesOf } from "./told.js";
import { type Branch, branchOf, storedBranches, treeProblems } from "./tree.js";
import { type Tally, writeParents, writeRows } from "./write.js";

/** What follows from rows that were added or changed, in the same unit of work; ids come some hundreds at a time. */
export type AfterWriting = (tx: Transaction, ids: readonly string[]) => Promise<void>;

/** Writes the rows of a kind whose facts aren't rows of a table of their own. */
export type Writing = (
	tx: Transaction,
	chunks: AsyncIterable<readonly CheckedRow[]>,
	who: { readonly actor: string; readonly nowMs: number },
) => Promise<Readonly<Tally>>;

export interface ImporterOptions {
	readonly kinds: readonly ImportKind[];
	/** By the name of a kind; the others are written into their table. */
	readonly writing?: Readonly<Record<string, Writing>>;
	/** By the name of a kind. */
	readonly afterWriting?: Readonly<Record<string, AfterWriting>>;
	/** Where a file is set aside while it is read; the system's folder for such files where nothing is said. */
	readonly spoolFolder?: string;
	/** A longer file is refused; 256 MiB where nothing is said. */
	readonly mostBytes?: number;
	/** A file with more rows is refused; a million where nothing is said. */
	readonly mostRows?: number;
}

export interface ImportOptions {
	/** ISO 3166-1 code of the country whose phone numbers are written without one. */
	readonly defaultCountry?: string;
	/** Who imports, for the ledger: a person's id, or a part of the program. */
	readonly actor?: string;
	/** Takes a file in though the same content was imported before. */
	readonly again?: boolean;
}

interface Task {
	readonly kind: ImportKind;
	readonly spool: Spool;
	readonly nowMs: number;
	readonly options: ImportOptions;
}

/** Takes in files of rows: each file whole or not at all. */
export class Importer {
	private readonly kinds: ReadonlyMap<string, ImportKind>;

	/** @throws DefectError where two kinds have one name, or something is to follow a kind that isn't there */
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly settings: ImporterOptions,
	) {
		this.kinds = new Map(settings.kinds.map((kind) => [kind.name, kind]));
		if (this.kinds.size < settings.kinds.length) throw new DefectError("two kinds of import have the same name");
		for (const name of Object.keys(settings.afterWriting ?? {}))
			if (!this.kinds.has(name))
				throw new DefectError(`something is to follow the import of "${name}", which isn't a kind of import`);
	}

	/** Names of the kinds there are, each after those that it refers to. */
	get kindNames(): readonly string[] {
		return [...this.kinds.keys()];
	}

	/**
	 * Imports one file: adds what is new, changes what differs, removes nothing.
	 * @param kindName "areas", "people"...
	 * @param source the bytes of the file, or its path
	 * @returns what became of it; "refused" with what is wrong and where, and nothing changed, where any row isn't right;
	 * "already imported", with nothing changed, where the same content was imported as this kind before
	 * @throws InputError where there is no such kind or country, no file at the path, or it is too long
	 */
	async importFile(kindName: string, source: Source, options: ImportOptions = {}): Promise<ImportReport> {
		const kind = this.kindNamed(kindName);
		checkCountry(options.defaultCountry);
		const spool = await spooled(source, this.settings.spoolFolder ?? tmpdir(), this.settings.mostBytes ?? 256 * 1024 * 1024);
		try {
			const task = { kind, spool, nowMs: this.clock.nowMs(), options };
			if (spool.problem) return refused(kind, 0, problemsOf([spool.problem]));
			const before = options.again ? undefined : await rowsOfSame(this.query, task);
			return before === undefined ? await this.checkedAndWritten(task) : alreadyImported(kind, before);
		} finally {
			await spool.remove();
		}
	}

	private readonly query: Query = (statement, parameters) => this.store.query(statement, parameters);

	private kindNamed(name: string): ImportKind {
		const kind = this.kinds.get(name);
		if (kind) return kind;
		const names = [...this.kinds.keys()];
		throw new InputError(
			"invalid-input",
			`"${name.slice(0, 40)}" can't be imported; there are ${names.join(", ")}${suggestion(name.slice(0, 40), names)}`,
		);
	}

	private async reading({ kind, nowMs, options }: Task): Promise<Reading> {
		return {
			kind,
			query: this.query,
			nowMs,
			policy: await currentPolicy(this.store),
			mostRows: this.settings.mostRows ?? 1_000_000,
			defaultCountry: options.defaultCountry as CountryCode | undefined,
			problems: new Problems(),
			lineOf: new Map(),
			rows: 0,
		};
	}

	/** Reads and checks without the writer, so that nobody waits for a file that is refused; then writes what was checked. */
	private async checkedAndWritten(task: Task): Promise<ImportReport> {
		const { kind, spool } = task;
		const reading = await this.reading(task);
		const rows = new RowsSetAside(join(spool.folder, "rows.jsonl"));
		const branches = new Map<string, Branch>();
		for await (const chunk of checkedRows(spool.path, reading)) {
			if (!reading.problems.any) await rows.add(chunk);
			if (kind.tree) for (const row of chunk) branches.set(row.code, branchOf(row, kind.tree));
		}
		if (kind.tree)
			for (const problem of treeProblems(kind, branches, await storedBranches(this.query, kind), reading.lineOf))
				reading.problems.add(problem);
		return reading.problems.any ? refused(kind, reading.rows, reading.problems) : this.written(task, rows, reading.rows);
	}

	private written(task: Task, rows: RowsSetAside, count: number): Promise<ImportReport> {
		const { kind, spool, nowMs, options } = task;
		return this.store.work.run(async (tx) => {
			await oneAfterTheOther(tx);
			const fileId = await this.claimed(tx, task, count);
			if (fileId === undefined) return alreadyImported(kind, count);
			const tally: Tally = { added: 0, changed: 0, unchanged: 0 };
			const ids: string[] = [];
			const writing = this.settings.writing?.[kind.name];
			if (writing) Object.assign(tally, await writing(tx, rows.chunks(), { actor: options.actor ?? "import", nowMs }));
			else for await (const chunk of rows.chunks()) ids.push(...(await this.writtenAndTold(tx, task, fileId, chunk, tally)));
			if (kind.tree) for await (const chunk of rows.chunks()) await writeParents(tx, kind, chunk);
			const after = this.settings.afterWriting?.[kind.name];
			if (after) for (let from = 0; from < ids.length; from += CHUNK_ROWS) await after(tx, ids.slice(from, from + CHUNK_ROWS));
			const detail = { kind: kind.name, sha256: spool.sha256, rows: count, ...tally };
			const entry = {
				atMs: nowMs,
				actor: options.actor ?? "import",
				action: "imported",
				subjectKind: "import",
				subjectId: fileId,
			};
			await record(tx, this.ids, [{ ...entry, detail }]);
			return { kind: kind.name, state: "imported", rows: count, ...tally, problems: [], more: 0 };
		});
	}

	private async writtenAndTold(
		tx: Transaction,
		{ kind, nowMs, options }: Task,
		fileId: string,
		rows: readonly CheckedRow[],
		tally: Tally,
	): Promise<readonly string[]> {
		const isPersonal = (field: string) => this.store.sealing.of(kind.table, field) !== undefined;
		const written = await writeRows(tx, kind, rows, () => this.ids.next(), tally, isPersonal);
		await record(tx, this.ids, await entriesOf(tx, { fileId, kind, actor: options.actor ?? "import", nowMs }, written));
		return written.ids;
	}

	/** @returns the id under which the file is remembered, or none where another import of the same content came first */
	private async claimed(tx: Transaction, { kind, spool, nowMs, options }: Task, rows: number): Promise<string | undefined> {
		const claimed = await tx.affected(
			`INSERT INTO import_file (id, kind, sha256, rows, imported_at_ms) VALUES ($1, $2, $3, $4, $5)
			 ON CONFLICT (kind, sha256) DO ${options.again ? "UPDATE SET imported_at_ms = excluded.imported_at_ms" : "NOTHING"}`,
			[this.ids.next(), kind.name, spool.sha256, rows, nowMs],
		);
		if (claimed === 0) return undefined;
		const parameters = [kind.name, spool.sha256];
		return only(await tx.query<{ id: string }>("SELECT id FROM import_file WHERE kind = $1 AND sha256 = $2", parameters)).id;
	}
}

/** Any fixed number serves that nothing else in the program locks. */
const IMPORT_LOCK = 7_521_905;

/** Two imports at once would count each other's rows as their own; on SQLite units of work queue anyway. */
async function oneAfterTheOther(tx: Transaction): Promise<void> {
	if (tx.kind === "postgres") await tx.query("SELECT pg_advisory_xact_lock($1)", [IMPORT_LOCK]);
}

function checkCountry(code: string | undefined): void {
	if (code !== undefined && !isSupportedCountry(code))
		throw new InputError("invalid-input", "The default country must be two capital letters of ISO 3166-1, such as BD");
}

async function rowsOfSame(query: Query, { kind, spool }: Task): Promise<number | undefined> {
	const statement = "SELECT rows FROM import_file WHERE kind = $1 AND sha256 = $2";
	const [row] = await query<{ rows: number }>(statement, [kind.name, spool.sha256]);
	return row?.rows;
}

function alreadyImported({ name }: ImportKind, rows: number): ImportReport {
	return { kind: name, state: "already imported", rows, added: 0, changed: 0, unchanged: rows, problems: [], more: 0 };
}

function refused({ name }: ImportKind, rows: number, { first, more }: Problems): ImportReport {
	const problems = first.toSorted((a, b) => a.line - b.line);
	return { kind: name, state: "refused", rows, added: 0, changed: 0, unchanged: 0, problems, more };
}

function problemsOf(found: Problems["first"]): Problems {
	const problems = new Problems();
	for (const problem of found) problems.add(problem);
	return problems;
}
