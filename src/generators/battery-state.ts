import type { GeneratorRules } from "../programme/generator-rules.js";
import type { Battery, ShareBounds } from "../science/battery.js";
import { capacityShare, drawnShare } from "../science/coulomb-count.js";
import { restCharge } from "../science/rest-voltage.js";
import { DAY_MS, MINUTE_MS } from "../time/clock.js";
import type { BatteryFacts, BatteryRun, RestReading } from "./battery-facts.js";
import { expectedAtMs, runRate } from "./run-rate.js";

/** What is believed of a battery now. */
export interface BatteryState extends ShareBounds {
	/** What the charge was last known from, and when. */
	readonly knownFrom: "reading" | "charged" | "new";
	readonly knownAtMs: number;
	/** Share of full that runs have drawn since then. */
	readonly drawnShare: number;
	readonly runsSinceReading: number;
	readonly lastReading: RestReading | null;
	/** When a reading last told the charge: one of a battery that hadn't rested tells nothing. */
	readonly lastToldAtMs: number | null;
	/** Capacity against the label's, median of what pairs of readings tell; null where no pair tells anything. */
	readonly capacityShare: number | null;
}

/** A full charge as a keeper's charger gives it. Own choice. */
const CHARGED: ShareBounds = { lowShare: 0.9, share: 1, highShare: 1 };
/** The voltage table holds up to here; above it something is charging the battery. Source: as `restCharge`. */
const TABLE_END_V = 16;

export function asBattery({ ratedAh, ratedHours, peukertExponent }: BatteryFacts["battery"]): Battery {
	return { capacityAh: ratedAh, ratedHours, peukertExponent };
}

/** @returns what a voltage at rest tells of the charge; null where the battery hadn't rested, or was being charged */
export function restedCharge({ restVoltageV, restHours }: Pick<RestReading, "restVoltageV" | "restHours">): ShareBounds | null {
	if (restVoltageV > TABLE_END_V) return null;
	const charge = restCharge({ restVoltageV, restHours });
	return charge.kind === "rested" ? charge : null;
}

/** @returns charge and health, counted from the last instant at which the charge was known */
export function batteryState(facts: BatteryFacts): BatteryState {
	const { battery, readings, chargedAtMs, runs } = facts;
	const rested = readings.flatMap((reading) => {
		const charge = restedCharge(reading);
		return charge && reading.readAtMs >= battery.sinceMs ? [{ atMs: reading.readAtMs, charge }] : [];
	});
	const lastRested = rested.at(-1);
	const lastCharged = chargedAtMs.filter((atMs) => atMs >= battery.sinceMs).at(-1);
	const known =
		lastRested && lastRested.atMs >= (lastCharged ?? 0)
			? { knownFrom: "reading" as const, knownAtMs: lastRested.atMs, charge: lastRested.charge }
			: lastCharged !== undefined
				? { knownFrom: "charged" as const, knownAtMs: lastCharged, charge: CHARGED }
				: { knownFrom: "new" as const, knownAtMs: battery.sinceMs, charge: CHARGED };
	const drawn = drawnBetween(facts, known.knownAtMs, Number.POSITIVE_INFINITY);
	const left = (share: number) => Math.max(0, share - drawn);
	const lastReadAtMs = lastRested?.atMs ?? battery.sinceMs;
	return {
		knownFrom: known.knownFrom,
		knownAtMs: known.knownAtMs,
		drawnShare: drawn,
		lowShare: left(known.charge.lowShare),
		share: left(known.charge.share),
		highShare: left(known.charge.highShare),
		runsSinceReading: runs.filter(({ startedAtMs }) => startedAtMs >= lastReadAtMs).length,
		lastReading: readings.at(-1) ?? null,
		lastToldAtMs: lastRested?.atMs ?? null,
		capacityShare: capacityOf(facts, rested),
	};
}

function drawnBetween(facts: BatteryFacts, fromMs: number, untilMs: number): number {
	const battery = asBattery(facts.battery);
	return facts.runs
		.filter(({ startedAtMs }) => startedAtMs >= fromMs && startedAtMs < untilMs)
		.reduce((sum, run) => sum + drawnShare({ battery, currentA: currentOf(run), minutes: minutesOf(run) }), 0);
}

const currentOf = ({ currentA, ratedCurrentA }: BatteryRun): number => currentA ?? ratedCurrentA;
const minutesOf = ({ startedAtMs, endedAtMs }: BatteryRun): number => Math.min(2880, (endedAtMs - startedAtMs) / MINUTE_MS);

/** Each pair of readings with runs and no charging in between tells of the capacity. */
function capacityOf(facts: BatteryFacts, rested: readonly { atMs: number; charge: ShareBounds }[]): number | null {
	const told = rested.slice(1).flatMap((after, i) => {
		const before = rested[i]!;
		if (facts.chargedAtMs.some((atMs) => atMs > before.atMs && atMs < after.atMs)) return [];
		const share = capacityShare({
			drawnShare: drawnBetween(facts, before.atMs, after.atMs),
			shareBefore: before.charge.share,
			shareAfter: after.charge.share,
		});
		return share === null ? [] : [share];
	});
	told.sort((a, b) => a - b);
	return told[told.length >> 1] ?? null;
}

/** Why a battery is looked at. */
export interface PlannedCheck {
	readonly dueAtMs: number;
	readonly reason: "days" | "runs" | "charge";
	readonly figure: number;
	readonly limit: number;
}

/** @returns when it is next looked at, by whichever comes first; null for one that isn't in use */
export function plannedCheck(facts: BatteryFacts, rules: GeneratorRules["battery"], nowMs: number): PlannedCheck | null {
	const { battery, runs } = facts;
	if (!battery.inUse) return null;
	const state = batteryState(facts);
	const readAtMs = Math.max(battery.sinceMs, state.lastToldAtMs ?? 0);
	const days = (nowMs - readAtMs) / DAY_MS;
	const ways: PlannedCheck[] = [
		{
			dueAtMs: Math.round(readAtMs + rules.checkDays * DAY_MS),
			reason: "days",
			figure: Math.max(0, days),
			limit: rules.checkDays,
		},
	];
	const lastEndedAtMs = runs.at(-1)?.endedAtMs;
	if (lastEndedAtMs !== undefined) {
		const rate = runRate(runs);
		const left = rules.checkRuns - state.runsSinceReading;
		const dueAtMs = left <= 0 ? lastEndedAtMs : expectedAtMs(left, rate?.runsPerDay ?? null, lastEndedAtMs, nowMs, rate);
		if (dueAtMs !== null) ways.push({ dueAtMs, reason: "runs", figure: state.runsSinceReading, limit: rules.checkRuns });
		// Counted down to where a run should stop, though nobody said that it was charged: a look tells.
		if (state.drawnShare > 0 && state.share <= rules.stopShare)
			ways.push({
				dueAtMs: Math.max(lastEndedAtMs, readAtMs + LEAST_HOURS_MS),
				reason: "charge",
				figure: state.share,
				limit: rules.stopShare,
			});
	}
	const first = ways.reduce((sooner, way) => (way.dueAtMs < sooner.dueAtMs ? way : sooner));
	// What was read told nothing, because it hadn't rested: it is read again once it has, not at once.
	const restedAtMs = state.lastReading && state.lastReading.readAtMs > readAtMs ? state.lastReading.readAtMs + AGAIN_MS : 0;
	return { ...first, dueAtMs: Math.max(first.dueAtMs, restedAtMs) };
}

/** A battery that was just read isn't read again before it has rested. Source: as `restCharge`. */
const LEAST_HOURS_MS = DAY_MS / 4;
/** It rests over night: no sooner than the next morning. */
const AGAIN_MS = (DAY_MS * 5) / 6;
