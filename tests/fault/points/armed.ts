import { createHash } from "node:crypto";
import type BetterSqlite3 from "better-sqlite3";
import { TransientError } from "../../../src/errors/errors.js";
import type { Notifier } from "../../../src/messages/notifier.js";
import type { Store } from "../../../src/store/store.js";
import { type Point, watchSends, watchWork } from "./points.js";

/** What was passed while something was done. */
export interface Passed {
	readonly points: readonly Point[];
	/** Where an error came; none: it was over before. */
	readonly failedAt: Point | undefined;
}

/** Lets an error come at one point after the other. */
export class Armed {
	private points: Point[] = [];
	private at = Number.POSITIVE_INFINITY;
	/** Lines that a point was passed at, with the moments. */
	readonly seen = new Map<string, Set<string>>();

	constructor(store: Store, notifiers: Iterable<Notifier> = []) {
		watchWork(store.work, (point) => this.pass(point));
		for (const notifier of notifiers) watchSends(notifier, (point) => this.pass(point));
	}

	/** Does something while an error comes at the point of that number, from 0. */
	async failing(at: number, act: () => Promise<unknown>): Promise<Passed> {
		this.points = [];
		this.at = at;
		try {
			await act();
		} finally {
			this.at = Number.POSITIVE_INFINITY;
		}
		return { points: this.points, failedAt: this.points[at] };
	}

	private pass(point: Point): void {
		this.points.push(point);
		if (this.points.length - 1 === this.at)
			throw new TransientError("database-busy", `an error of the tests, ${point.moment}, ${point.line}`);
		const moments = this.seen.get(point.line) ?? new Set();
		this.seen.set(point.line, moments.add(point.moment));
	}
}

/** A digest of every value of every table: the same twice where nothing was changed between. */
export async function everythingIn(store: Store): Promise<string> {
	const tables = store.writer.entityMetadatas.map(({ tableName }) => tableName).sort();
	if (store.kind === "postgres") {
		const digests = tables.map(
			(table) => `SELECT '${table}' AS name, md5(string_agg(t::text, '' ORDER BY t::text)) AS md5 FROM "${table}" t`,
		);
		return JSON.stringify(await store.writer.query(digests.join(" UNION ALL ")));
	}
	const { databaseConnection } = store.writer.driver as unknown as { readonly databaseConnection: BetterSqlite3.Database };
	const hash = createHash("sha256");
	for (const table of tables)
		hash.update(JSON.stringify([table, databaseConnection.prepare(`SELECT * FROM "${table}"`).raw().all()]));
	return hash.digest("hex");
}
