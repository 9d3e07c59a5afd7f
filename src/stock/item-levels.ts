import type { StockRules } from "../programme/stock-rules.js";
import { minMax } from "../science/reorder.js";
import { DAY_MS } from "../time/clock.js";

/** An item as its reordering is reckoned. */
export interface ItemStock {
	/** In its unit, 0 or more. */
	readonly held: number;
	/** Expected use in units a day. */
	readonly usePerDay: number;
	/** Set by somebody; none: reckoned from the use. */
	readonly reorderAt: number | null;
	readonly orderUpTo: number | null;
	/** The end of its last good day; none: it doesn't expire. */
	readonly expiresAtMs: number | null;
}

export interface ItemLevels {
	readonly reorderAt: number;
	readonly orderUpTo: number;
	/** What to get when it is due, in whole units. */
	readonly order: number;
	readonly because: "runs low" | "expires";
	/** None: neither use nor expiry brings it about. */
	readonly dueAtMs: number | null;
}

/**
 * Levels of an item in the way of health supply chains, and when it must be got anew.
 * Minimum: use over lead time and safety; maximum: over the review period too. What expires soon counts as nothing when it is got anew.
 * Source: `minMax`.
 */
export function itemLevels(item: ItemStock, { items }: StockRules, nowMs: number): ItemLevels {
	const { minimum, maximum } = minMax(
		{ lead: items.leadDays, safety: items.safetyDays, review: items.reviewDays },
		{ use: item.usePerDay, onHand: item.held },
	);
	const reorderAt = item.reorderAt ?? Math.ceil(minimum * item.usePerDay);
	const orderUpTo = Math.max(item.orderUpTo ?? Math.ceil(maximum * item.usePerDay), reorderAt);
	const lowMs = lowAtMs(item, reorderAt, nowMs);
	const renewMs = item.expiresAtMs === null || item.held === 0 ? null : item.expiresAtMs - items.expiryDays * DAY_MS;
	const expires = renewMs !== null && (lowMs === null || renewMs < lowMs);
	const heldThen = expires ? 0 : Math.min(item.held, Math.max(reorderAt, 0));
	const order = Math.max(1, orderUpTo - heldThen, expires ? item.held : 0);
	const dueAtMs = expires ? Math.max(nowMs, renewMs) : lowMs;
	return { reorderAt, orderUpTo, order, because: expires ? "expires" : "runs low", dueAtMs };
}

/** When what is held will have fallen to the level; now where it is under it, never where nothing is used. */
function lowAtMs({ held, usePerDay, reorderAt: set }: ItemStock, reorderAt: number, nowMs: number): number | null {
	// Neither used nor given a level: nobody waits for it.
	if (usePerDay === 0 && set === null) return null;
	if (held <= reorderAt) return nowMs;
	return usePerDay > 0 ? Math.round(nowMs + ((held - reorderAt) / usePerDay) * DAY_MS) : null;
}
