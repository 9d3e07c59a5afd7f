import { shortRound } from "../science/round.js";
import { distanceKm } from "../science/visit-times.js";

export interface RoundPlace {
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
}

/** Somewhere to go, and since when the oldest work there is due. */
export interface Call extends RoundPlace {
	readonly dueAtMs: number;
}

export interface DayTerms {
	readonly startMs: number;
	readonly endMs: number;
	readonly visitMinutes: number;
	/** Straight lines are walked at this: paths are longer than they. */
	readonly straightKmPerH: number;
}

/** One stop of a round. */
export interface Stop<C> {
	readonly call: C;
	/** From the stop before, a straight line. */
	readonly km: number;
	readonly arriveAtMs: number;
	readonly leaveAtMs: number;
}

export interface RoundPlan<C> {
	readonly stops: readonly Stop<C>[];
	readonly backAtMs: number;
	/** With the way home. */
	readonly km: number;
	/** What the working hours don't hold, the most urgent first. */
	readonly leftOver: readonly C[];
}

/**
 * A day's calls in the order of a short round that begins and ends at home, within working hours. Where they don't all fit, those that
 * became due first are kept.
 * @param calls any number; each is one visit
 */
export function roundPlan<C extends Call>(home: RoundPlace, calls: readonly C[], terms: DayTerms): RoundPlan<C> {
	const urgent = calls.toSorted((a, b) => a.dueAtMs - b.dueAtMs);
	const minutes = Math.max(0, (terms.endMs - terms.startMs) / 60_000);
	// More visits than this don't fit even where nothing is walked.
	const kept = urgent.slice(0, Math.floor(minutes / terms.visitMinutes));
	let found = walked(home, kept, terms);
	while (found.backAtMs > terms.endMs && kept.length > 0) {
		kept.pop();
		found = walked(home, kept, terms, found);
	}
	// What was left out opens shorter ways between those that are kept.
	found = walked(home, kept, terms);
	return { ...found, leftOver: urgent.slice(kept.length) };
}

type Walked<C> = Omit<RoundPlan<C>, "leftOver">;

/** @param before a longer round that is kept in its order; none: a short one is looked for */
function walked<C extends Call>(home: RoundPlace, calls: readonly C[], terms: DayTerms, before?: Walked<C>): Walked<C> {
	const keeps = new Set(calls);
	const ordered = before ? before.stops.map(({ call }) => call).filter((call) => keeps.has(call)) : inRound(home, calls);
	const stops: Stop<C>[] = [];
	let [at, nowMs, km]: [RoundPlace, number, number] = [home, terms.startMs, 0];
	const goTo = (to: RoundPlace) => {
		const leg = distanceKm(at, to);
		at = to;
		km += leg;
		nowMs += (leg / terms.straightKmPerH) * 3_600_000;
		return leg;
	};
	for (const call of ordered) {
		const leg = goTo(call);
		const arriveAtMs = nowMs;
		nowMs += terms.visitMinutes * 60_000;
		stops.push({ call, km: leg, arriveAtMs, leaveAtMs: nowMs });
	}
	goTo(home);
	return { stops, backAtMs: nowMs, km };
}

function inRound<C extends Call>(home: RoundPlace, calls: readonly C[]): C[] {
	const places = [home, ...calls];
	const { order } = shortRound(places.map((a) => places.map((b) => distanceKm(a, b))));
	const found = order.slice(1).map((index) => calls[index - 1] as C);
	const [first, last] = [found[0], found.at(-1)];
	// Either way round is as long: the nearer end first, so that little is lost where she has to break off.
	return first && last && distanceKm(home, last) < distanceKm(home, first) ? found.reverse() : found;
}
