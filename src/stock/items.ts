import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { setDue } from "../programme/due.js";
import { currentPolicy, type Policy } from "../programme/policy.js";
import { placeholders } from "../store/sql.js";
import type { Store } from "../store/store.js";
import { only, type Transaction } from "../store/unit-of-work.js";
import { type Clock, DAY_MS } from "../time/clock.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { REPLENISH, RETEST } from "./due-work.js";
import { type ItemLevels, itemLevels } from "./item-levels.js";
import { type ItemKind, type ItemMoveKind, ItemMoveRow, type ItemUnit, StockItemRow } from "./item-rows.js";

/** Each kind is counted in one unit, the smallest that anybody measures. */
export const UNITS: Readonly<Record<ItemKind, ItemUnit>> = {
	salt: "g",
	reagent: "drop",
	syringe: "piece",
	goggles: "piece",
	gloves: "piece",
	electrode: "piece",
};

/** An item as it is put on file; its holder is a person or a generator, by its code. */
export interface NewItem extends Pick<StockItemRow, "code" | "kind" | "expiresOn" | "usePerDay" | "reorderAt" | "orderUpTo"> {
	readonly holderCode: string | null;
	readonly generatorCode: string | null;
	readonly quantity: number;
}

export interface NewItemMove {
	readonly kind: Exclude<ItemMoveKind, "handed out" | "handed in">;
	/** Whole units; what was found where it was counted. */
	readonly quantity: number;
	readonly atMs: number;
	readonly byPersonId: string | null;
	readonly note: string | null;
	/** Of what is received, where it is fresher than what is there. */
	readonly expiresOn?: string | null;
}

/** What bleach is made and tested with, in hands and at generators; whole numbers, so that sums hold. */
export class StockItems {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** @throws InputError `unknown-subject`, `invalid-input`, `conflict` */
	register(item: NewItem): Promise<string> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const [taken] = await tx.query("SELECT id FROM stock_item WHERE code = $1", [item.code]);
			if (taken)
				throw new InputError("conflict", `An item ${item.code} is on file already.`, {
					status: 409,
					problems: [{ at: "/code", message: "must be a new code" }],
				});
			const holder = await holderOf(tx, item);
			const { holderCode: _, generatorCode: __, quantity, ...given } = item;
			const row: StockItemRow = { ...given, ...holder, id: this.ids.next(), unit: UNITS[item.kind], held: 0, changedAtMs: nowMs };
			await tx.manager.insert(StockItemRow, row);
			if (quantity > 0)
				await this.write(tx, row.id, { kind: "received", quantity, atMs: nowMs, byPersonId: null, note: null }, nowMs);
			await refreshItems(tx, [row.id], await currentPolicy(tx), nowMs);
			return row.id;
		});
	}

	/** @throws InputError `unknown-subject`, `invalid-input`, `time-in-future`, `more-than-held` */
	move(code: string, move: NewItemMove): Promise<string> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			refuseFuture(move.atMs, nowMs, "/at");
			const [item] = await tx.query<{ id: string }>("SELECT id FROM stock_item WHERE code = $1", [code]);
			if (!item) throw new InputError("unknown-subject", "There is no stock item of that code.", { status: 404 });
			await this.write(tx, item.id, move, nowMs);
			await refreshItems(tx, [item.id], await currentPolicy(tx), nowMs);
			return item.id;
		});
	}

	private async write(tx: Transaction, itemId: string, move: NewItemMove, nowMs: number): Promise<void> {
		await moveItem(tx, this.ids, itemId, move, nowMs);
	}
}

/**
 * Adds a line to an item's books, in the caller's unit of work.
 * @throws InputError `invalid-input` (not a whole number, or nothing), `more-than-held`
 */
export async function moveItem(tx: Transaction, ids: Ids, itemId: string, move: NewItemMove, nowMs: number): Promise<void> {
	const least = move.kind === "counted" ? 0 : 1;
	if (!(Number.isInteger(move.quantity) && move.quantity >= least && move.quantity <= 1_000_000_000))
		throw new InputError("invalid-input", `${move.quantity} isn't a number of units that can be moved.`, {
			problems: [{ at: "/quantity", message: `must be a whole number from ${least} on` }],
		});
	const before = only(
		await tx.query<{ code: string; areaId: string; held: number }>("SELECT code, area_id, held FROM stock_item WHERE id = $1", [
			itemId,
		]),
	);
	const quantity =
		move.kind === "received" ? move.quantity : move.kind === "counted" ? move.quantity - before.held : -move.quantity;
	const [after] = await tx.query<{ held: number }>(
		"UPDATE stock_item SET held = held + $2, changed_at_ms = $3, expires_on = COALESCE($4, expires_on) WHERE id = $1 AND held + $2 >= 0 AND (held = $5 OR $6 <> 'counted') RETURNING held",
		[itemId, quantity, nowMs, move.expiresOn ?? null, before.held, move.kind],
	);
	// Somebody moved some at the same moment: what was counted is held against what is on the books then.
	if (!after && move.kind === "counted") return moveItem(tx, ids, itemId, move, nowMs);
	if (!after)
		throw new InputError("more-than-held", `${before.code} has ${before.held}; ${move.quantity} can't be taken from it.`, {
			problems: [{ at: "/quantity", message: `must be at most ${before.held}, which is there` }],
		});
	if (quantity === 0) return;
	await tx.manager.insert(ItemMoveRow, {
		id: ids.next(),
		itemId,
		kind: move.kind,
		quantity,
		atMs: move.atMs,
		recordedAtMs: nowMs,
		byPersonId: move.byPersonId,
		otherItemId: null,
		reference: move.note,
	});
	await record(tx, ids, [
		{
			atMs: nowMs,
			actor: move.byPersonId ?? "office",
			action: `item ${move.kind}`,
			subjectKind: "item",
			subjectId: itemId,
			areaId: before.areaId,
			detail: { code: before.code, quantity, held: after.held },
		},
	]);
}

/** An item with the levels that hold for it now. */
export interface LevelledItem extends StockItemRow {
	readonly holderName: string;
	readonly askedId: string | null;
	readonly levels: ItemLevels;
}

/** @returns items with their levels, by id, in a few statements: salt by the plans, reagent by the tests that are due */
export async function levelledItems(
	from: Pick<Transaction, "query">,
	ids: readonly string[],
	policy: Policy,
	nowMs: number,
): Promise<ReadonlyMap<string, LevelledItem>> {
	if (ids.length === 0) return new Map();
	const rows = await from.query<
		StockItemRow & { saltG: number | null; tests: number; operatorId: string | null; holderName: string }
	>(
		`SELECT i.*, COALESCE(p.code, g.code) AS holder_name, g.operator_id,
			(SELECT CAST(SUM(pl.runs * g.batch_volume_l * g.salt_g_per_l) AS double precision) FROM production_plan pl WHERE pl.generator_id = i.generator_id AND pl.ended_at_ms IS NULL) AS salt_g,
			(SELECT count(*) FROM due d JOIN batch b ON b.id = d.subject_id WHERE d.kind = $1 AND d.due_at_ms <= $2 AND b.keeper_id = i.holder_id) AS tests
		 FROM stock_item i LEFT JOIN person p ON p.id = i.holder_id LEFT JOIN generator g ON g.id = i.generator_id
		 WHERE i.id IN (${placeholders(ids.length, 3)})`,
		[RETEST, nowMs + TESTS_DAYS * DAY_MS, ...ids],
	);
	return new Map(
		rows.map(({ saltG, tests, operatorId, ...row }) => {
			const reckoned =
				row.kind === "salt"
					? Number(saltG ?? 0) / (policy.stock.makeLeadDays + policy.stock.planDays)
					: row.kind === "reagent"
						? (Number(tests) * policy.stock.reagentDropsPerTest) / TESTS_DAYS
						: 0;
			const expiresAtMs = row.expiresOn === null ? null : Date.parse(`${row.expiresOn}T23:59:59Z`);
			const levels = itemLevels({ ...row, usePerDay: row.usePerDay ?? reckoned, expiresAtMs }, policy.stock, nowMs);
			return [row.id, { ...row, askedId: row.holderId ?? operatorId, levels }];
		}),
	);
}

/** Tests that are due within so many days tell how fast reagent is used. */
const TESTS_DAYS = 14;

/** Sets when items must be got anew, after a fact about them has changed. */
export async function refreshItems(tx: Transaction, itemIds: readonly string[], policy: Policy, nowMs: number): Promise<void> {
	const items = await levelledItems(tx, itemIds, policy, nowMs);
	await setDue(
		tx,
		[...items.values()].map(({ id, areaId, levels }) => ({ kind: REPLENISH, subjectId: id, areaId, dueAtMs: levels.dueAtMs })),
	);
	// Where it has been asked for already, the sweep looks whether it is still wanted.
	await tx.affected(
		`UPDATE due SET due_at_ms = $1 WHERE kind = $2 AND subject_id IN (${placeholders(itemIds.length, 3)})
		 AND EXISTS (SELECT 1 FROM task t WHERE t.kind = due.kind AND t.subject_id = due.subject_id AND t.state = 'open')`,
		[nowMs, REPLENISH, ...itemIds],
	);
}

async function holderOf(tx: Transaction, item: NewItem): Promise<Pick<StockItemRow, "areaId" | "holderId" | "generatorId">> {
	const [table, code, at] =
		item.holderCode === null
			? (["generator", item.generatorCode, "/generatorCode"] as const)
			: (["person", item.holderCode, "/holderCode"] as const);
	const [row] = await tx.query<{ id: string; areaId: string }>(`SELECT id, area_id FROM ${table} WHERE code = $1`, [code]);
	if (!row)
		throw new InputError("unknown-subject", `There is no ${table} of the code that was given.`, {
			problems: [{ at, message: `must be the code of a ${table} on file` }],
		});
	return { areaId: row.areaId, holderId: table === "person" ? row.id : null, generatorId: table === "generator" ? row.id : null };
}
