import type { Policy } from "../programme/policy.js";
import { medianOfMean, type StrengthAhead, strengthAhead } from "../science/outlook.js";
import { heldForUse, safetyStock } from "../science/reorder.js";
import { DAY_MS, HOUR_MS } from "../time/clock.js";

/** A jar as its keeper's stock is reckoned with. */
export interface StockJar {
	readonly heldMl: number;
	readonly madeAtMs: number;
	/** Jars of one making are strong or weak together. */
	readonly making: string;
	/** At least one instant. */
	readonly outlook: readonly StrengthAhead[];
	/** Not to be dosed by until a test has said more. */
	readonly isDoubted?: boolean;
}

/** Use of a day, g of available chlorine; it changes with the season. */
export interface DayUse {
	readonly gPerDay: number;
	readonly sdGPerDay: number;
}

export interface StockQuestion {
	readonly jars: readonly StockJar[];
	readonly useAt: (atMs: number) => DayUse;
	/** Of bleach that would be collected now. */
	readonly fresh: readonly StrengthAhead[];
	readonly nowMs: number;
	/** When the volumes were last told of, by measuring a jar or filling one: what was used since is what is expected. Left out: now. */
	readonly toldAtMs?: number;
	/** Of what was used since then: what is written down, and off the volumes already, mL; none where left out. */
	readonly recordedMl?: number;
	readonly policy: Policy;
}

/** When a stock must be filled up, and by how much. */
export interface Restock {
	/** What is usable now, by what is on the books and what is expected to have been used since. */
	readonly usableMl: number;
	/** g of available chlorine in it, with the standard deviation of what is believed of its strength. */
	readonly usableG: number;
	readonly sdG: number;
	/** At or under this much that stays usable until new bleach is there, g: use until then, what ages away until it is used, safety. */
	readonly reorderG: number;
	/** When the stock will have fallen to that level; never before now. None: nothing is used. */
	readonly dueAtMs: number | null;
	/** When nothing usable will be left. */
	readonly outAtMs: number | null;
	/** To collect when it is due, mL of fresh bleach. */
	readonly collectMl: number;
	/** For how many days it is collected. */
	readonly forDays: number;
}

const STEP_MS = 6 * HOUR_MS;
const HORIZON_STEPS = 60 * 4;

/**
 * When a stock of bleach will have fallen to its reorder level, and how much to collect then.
 *
 * Stock counts that stays usable until new bleach is there: a jar that will be too weak or too old by then can't be relied on. It is used
 * from the oldest jar on. The level is the use over lead time and review, each day's use divided by the share of strength that will be left
 * by then, and z times the standard deviation of use and of strength. Who uses more today uses more tomorrow: the deviation of a day counts
 * for every day of the time, which is more than independent days would give.
 *
 * @returns figures in g of available chlorine and mL; see the fields
 * Source: reorder level = use over lead time and review + safety stock: see `reorder.ts`; ageing: own derivation, `heldForUse`.
 */
export function restockOf(question: StockQuestion): Restock {
	const { useAt, nowMs, policy } = question;
	const waitMs = (policy.stock.collectLeadDays + policy.stock.reviewDays) * DAY_MS;
	const jars = [...question.jars].sort((a, b) => a.madeAtMs - b.madeAtMs).map((jar) => ({ ...jar }));
	usedSince(jars, question);
	const usable = sumAt(jars, nowMs, nowMs, policy);
	const level = levelAt(jars, question, nowMs, waitMs);
	const told = { usableMl: usable.ml, usableG: usable.g, sdG: usable.sdG, reorderG: level.reorderG };
	if (!(useAt(nowMs).gPerDay > 0)) return { ...told, dueAtMs: null, outAtMs: null, collectMl: 0, forDays: 0 };
	return { ...told, ...crossings(jars, question, waitMs) };
}

type Standing = StockJar & { heldMl: number };
type Crossings = Pick<Restock, "collectMl" | "forDays"> & { readonly dueAtMs: number; readonly outAtMs: number | null };

/** Nobody has told of all that was used lately: it is taken to be what is used usually, but for what was written down. */
function usedSince(jars: readonly Standing[], { toldAtMs, recordedMl = 0, useAt, fresh, nowMs, policy }: StockQuestion): void {
	const fromMs = Math.max(toldAtMs ?? nowMs, nowMs - HORIZON_STEPS * STEP_MS);
	const steps: { readonly atMs: number; readonly g: number }[] = [];
	for (let atMs = fromMs; atMs < nowMs; atMs += STEP_MS)
		steps.push({ atMs, g: (useAt(atMs).gPerDay * Math.min(STEP_MS, nowMs - atMs)) / DAY_MS });
	const expectedG = steps.reduce((sum, { g }) => sum + g, 0);
	const recordedG = recordedMl > 0 ? (recordedMl / 1000) * strengthAhead(fresh, nowMs).meanGPerL : 0;
	if (!(expectedG > recordedG)) return;
	for (const { atMs, g } of steps) useUp(jars, g * (1 - recordedG / expectedG), atMs, policy);
}

/** Lets days go by as they are expected to. */
function crossings(jars: readonly Standing[], question: StockQuestion, waitMs: number): Crossings {
	const { useAt, nowMs, policy } = question;
	let due: Omit<Crossings, "outAtMs"> | undefined;
	let spareBefore = Number.POSITIVE_INFINITY;
	for (let step = 0; step <= HORIZON_STEPS; step++) {
		const atMs = nowMs + step * STEP_MS;
		if (!due) {
			const { countedG, reorderG } = levelAt(jars, question, atMs, waitMs);
			const spareG = countedG - reorderG;
			const part = Number.isFinite(spareBefore) ? spareBefore / (spareBefore - spareG) : 1;
			if (spareG <= 0)
				due = { dueAtMs: Math.round(atMs - (step === 0 ? 0 : (1 - part) * STEP_MS)), ...toCollect(jars, question, atMs, waitMs) };
			spareBefore = spareG;
		}
		if (sumAt(jars, atMs, atMs, policy).g <= 0)
			return { ...(due ?? { dueAtMs: atMs, ...toCollect(jars, question, atMs, waitMs) }), outAtMs: atMs };
		useUp(jars, (useAt(atMs).gPerDay * STEP_MS) / DAY_MS, atMs, policy);
	}
	const endMs = nowMs + HORIZON_STEPS * STEP_MS;
	return { ...(due ?? { dueAtMs: endMs, ...toCollect(jars, question, endMs, waitMs) }), outAtMs: null };
}

/** What counts at an instant, and the level that it is held against. */
function levelAt(jars: readonly StockJar[], { useAt, fresh, policy }: StockQuestion, atMs: number, waitMs: number) {
	const counted = sumAt(jars, atMs, atMs + waitMs, policy);
	const curve = counted.ml > 0 ? jars.filter((jar) => isUsable(jar, atMs + waitMs, policy)) : [];
	const share = (untilMs: number) => (curve.length > 0 ? leftOf(curve, atMs, untilMs) : leftOfOne(fresh, atMs, untilMs));
	const needed = useOver(useAt, atMs, waitMs, share);
	return { countedG: counted.g, reorderG: needed.g + safetyStock(policy.stock.serviceLevel, needed.sdG, counted.sdG) };
}

/** Use over a time, as much more as ages away until it is used. */
function useOver(useAt: StockQuestion["useAt"], fromMs: number, overMs: number, share: (untilMs: number) => number) {
	const steps = Math.max(1, Math.round(overMs / STEP_MS));
	const stepDays = overMs / steps / DAY_MS;
	const middles = Array.from({ length: steps }, (_, i) => fromMs + (i + 0.5) * stepDays * DAY_MS);
	const uses = middles.map(useAt);
	return {
		g: heldForUse(
			uses.map(({ gPerDay }) => gPerDay * stepDays),
			middles.map((atMs) => Math.min(1, share(atMs))),
		),
		sdG: uses.reduce((sum, { sdGPerDay }) => sum + sdGPerDay * stepDays, 0),
	};
}

/** Up to the level of a supply that lasts beyond the next collection, but for no longer than fresh bleach stays usable. */
function toCollect(
	jars: readonly StockJar[],
	{ useAt, fresh, nowMs, policy }: StockQuestion,
	atMs: number,
	waitMs: number,
): Pick<Restock, "collectMl" | "forDays"> {
	const rules = policy.stock;
	const forDays = Math.min(waitMs / DAY_MS + rules.supplyDays, usableDays(fresh, nowMs, policy));
	// Bleach that is collected then is as fresh as the bleach of now is now.
	const needed = useOver(useAt, atMs, forDays * DAY_MS, (untilMs) => leftOfOne(fresh, nowMs, nowMs + untilMs - atMs));
	const held = sumAt(jars, atMs, atMs + waitMs, policy);
	const missingG = needed.g + safetyStock(rules.serviceLevel, needed.sdG, held.sdG) - held.g;
	if (!(missingG > 0) || needed.g === 0) return { collectMl: 0, forDays };
	const missingMl = (missingG / strengthAhead(fresh, nowMs).meanGPerL) * 1000;
	return { collectMl: Math.ceil(missingMl / rules.collectStepMl) * rules.collectStepMl, forDays };
}

/** @returns days until bleach of this outlook is more likely under the limit than above it, at most 60 */
export function usableDays(outlook: readonly StrengthAhead[], fromMs: number, { usableLimitGPerL }: Policy): number {
	for (let step = 1; step <= HORIZON_STEPS; step++)
		if (medianOfMean(strengthAhead(outlook, fromMs + step * STEP_MS)) < usableLimitGPerL) return ((step - 1) * STEP_MS) / DAY_MS;
	return (HORIZON_STEPS * STEP_MS) / DAY_MS;
}

/** @returns whether bleach of a jar may be dosed at an instant: more likely above the limit than under it, and not too old */
export function isUsable(
	{ outlook, madeAtMs, isDoubted }: Pick<StockJar, "outlook" | "madeAtMs" | "isDoubted">,
	atMs: number,
	policy: Policy,
): boolean {
	if (isDoubted || atMs > madeAtMs + policy.oldestUseDays * DAY_MS) return false;
	return medianOfMean(strengthAhead(outlook, atMs)) >= policy.usableLimitGPerL;
}

/** What of a stock counts: that of jars which are usable at a later instant, by its strength at this one. */
export function sumAt(
	jars: readonly StockJar[],
	atMs: number,
	usableAtMs: number,
	policy: Policy,
): { ml: number; g: number; sdG: number } {
	let ml = 0;
	let g = 0;
	const sdByMaking = new Map<string, number>();
	for (const jar of jars) {
		if (jar.heldMl <= 0 || !isUsable(jar, usableAtMs, policy) || !isUsable(jar, atMs, policy)) continue;
		const { meanGPerL, sdGPerL } = strengthAhead(jar.outlook, atMs);
		ml += jar.heldMl;
		g += (jar.heldMl / 1000) * meanGPerL;
		sdByMaking.set(jar.making, (sdByMaking.get(jar.making) ?? 0) + (jar.heldMl / 1000) * sdGPerL);
	}
	return { ml, g, sdG: Math.sqrt([...sdByMaking.values()].reduce((sum, sd) => sum + sd * sd, 0)) };
}

function useUp(jars: readonly Standing[], grams: number, atMs: number, policy: Policy): void {
	let left = grams;
	for (const jar of jars) {
		if (left <= 0) return;
		if (jar.heldMl <= 0 || !isUsable(jar, atMs, policy)) continue;
		const { meanGPerL } = strengthAhead(jar.outlook, atMs);
		const takenMl = Math.min(jar.heldMl, (left / meanGPerL) * 1000);
		jar.heldMl -= takenMl;
		left -= (takenMl / 1000) * meanGPerL;
	}
}

function leftOfOne(outlook: readonly StrengthAhead[], fromMs: number, untilMs: number): number {
	return strengthAhead(outlook, untilMs).meanGPerL / strengthAhead(outlook, fromMs).meanGPerL;
}

/** Share of the strength that is left, over several jars by what they hold. */
function leftOf(jars: readonly StockJar[], fromMs: number, untilMs: number): number {
	let now = 0;
	let then = 0;
	for (const jar of jars) {
		now += jar.heldMl * strengthAhead(jar.outlook, fromMs).meanGPerL;
		then += jar.heldMl * strengthAhead(jar.outlook, untilMs).meanGPerL;
	}
	return now > 0 ? then / now : 1;
}
