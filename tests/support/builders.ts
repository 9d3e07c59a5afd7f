import type { TaskRow } from "../../src/duties/rows.js";
import type { MessageRow } from "../../src/messages/rows.js";
import type { AreaRow, PersonRow } from "../../src/programme/rows.js";
import { snakeCase } from "../../src/store/columns.js";
import type { Store } from "../../src/store/store.js";
import { emptyLedger } from "./unguarded-ledger.js";

// Rows for tests: each function writes one row in a unit of work, with invented values for whatever isn't given, and returns it.

let made = 0;
const next = (kind: string) => `${kind}-${String(++made).padStart(5, "0")}`;

/** 5 March 2026, 12:00 in Nairobi, a Thursday. */
export const THURSDAY_NOON_MS = Date.UTC(2026, 2, 5, 9);

export async function anArea(store: Store, given: Partial<AreaRow> = {}): Promise<AreaRow> {
	const id = given.id ?? next("area");
	const climate = Array.from({ length: 12 }, () => ({ dayMeanC: 30, nightMeanC: 22, cloudFraction: 0.4 }));
	const row: AreaRow = {
		id,
		parentId: null,
		code: id,
		name: `Invented area ${id}`,
		timeZone: "Africa/Nairobi",
		latitudeDeg: -1.5,
		longitudeDeg: 37,
		altitudeM: 1200,
		climate,
		...given,
	};
	await put(store, "area", [row]);
	return row;
}

/** A volunteer who works every day and is quiet from 20:00 to 06:00; she needs an area. */
export async function aPerson(store: Store, given: Partial<PersonRow> & Pick<PersonRow, "areaId">): Promise<PersonRow> {
	const id = given.id ?? next("person");
	const row: PersonRow = {
		id,
		code: id,
		role: "volunteer",
		name: `Invented person ${id}`,
		// Ofcom keeps 07700 900000 to 900999 for fiction.
		phoneE164: `+447700900${String(made % 1000).padStart(3, "0")}`,
		email: null,
		language: "en",
		supervisorId: null,
		workingDays: [1, 2, 3, 4, 5, 6, 7],
		quietFrom: "20:00",
		quietUntil: "06:00",
		channels: [],
		active: true,
		optedOutAtMs: null,
		consentedAtMs: null,
		erasedAtMs: null,
		...given,
	};
	await put(store, "person", [row]);
	return row;
}

/** An open task without an assignee; it needs an area. */
export async function aTask(store: Store, given: Partial<TaskRow> & Pick<TaskRow, "areaId">): Promise<TaskRow> {
	const id = given.id ?? next("task");
	const row: TaskRow = {
		id,
		code: id,
		kind: "retest",
		subjectId: id,
		cycle: 1,
		assigneeId: null,
		state: "open",
		dueAtMs: THURSDAY_NOON_MS,
		openedAtMs: THURSDAY_NOON_MS,
		brief: {},
		ladderStep: 0,
		nextStepAtMs: null,
		ladderFromMs: null,
		putOffTimes: null,
		acknowledgedAtMs: null,
		acknowledgedById: null,
		closedAtMs: null,
		closedById: null,
		outcome: null,
		...given,
	};
	await put(store, "task", [row]);
	return row;
}

/** A message that waits since Thursday noon to tell that a jar is weak; it needs a recipient. */
export async function aMessage(store: Store, given: Partial<MessageRow> & Pick<MessageRow, "recipientId">): Promise<MessageRow> {
	const [row] = await messages(store, 1, given);
	return row!;
}

/** Removes every row that these functions write, so that a suite can keep one database. */
export async function clear(store: Store): Promise<void> {
	await store.work.run(async (tx) => {
		await emptyLedger(tx);
		for (const table of ["message_receipt", "push_subscription", "message_failure", "message", "task", "person", "area"])
			await tx.query(`DELETE FROM ${table}`);
	});
}

/** So many messages at once, all alike but for their ids and keys. */
export async function messages(
	store: Store,
	count: number,
	given: Partial<MessageRow> & Pick<MessageRow, "recipientId">,
): Promise<MessageRow[]> {
	const rows = Array.from({ length: count }, (): MessageRow => {
		const id = next("message");
		return {
			id,
			idempotencyKey: `key-${id}`,
			taskId: null,
			text: "jar.weak",
			fill: { jar: "INV-J01", strengthGPerL: 2.4 },
			urgent: false,
			state: "waiting",
			createdAtMs: THURSDAY_NOON_MS,
			// Of none of them it matters which goes first, unless a test says so.
			readyAtMs: null,
			waitsSinceMs: null,
			nextTryAtMs: THURSDAY_NOON_MS,
			claim: 0,
			tries: 0,
			channel: null,
			endedAtMs: null,
			answer: null,
			segments: null,
			encoding: null,
			heldUntilMs: null,
			heldBecause: null,
			digestId: null,
			channels: null,
			...given,
		};
	});
	for (let from = 0; from < rows.length; from += 500) await put(store, "message", rows.slice(from, from + 500));
	return rows;
}

async function put(store: Store, table: string, rows: readonly object[]): Promise<void> {
	const properties = Object.keys(rows[0] ?? {});
	const cells = rows.map((row) => properties.map((property) => cellOf((row as Record<string, unknown>)[property])));
	await store.work.run((tx) => tx.insert(table, properties.map(snakeCase), cells));
}

function cellOf(value: unknown): unknown {
	return typeof value === "object" && value !== null ? JSON.stringify(value) : value;
}
