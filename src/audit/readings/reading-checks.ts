import { InputError } from "../../errors/errors.js";
import { currentPolicy } from "../../programme/policy.js";
import { among } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import type { Clock } from "../../time/clock.js";
import { AreaTree } from "../coverage/area-tree.js";
import { type Period, periodOf } from "../coverage/period.js";
import { type ReadingFlags, type ReportedReading, type ReportingVolunteer, readingFlags } from "./flags.js";

export interface ReadingChecksAsked {
	readonly areaCode: string;
	readonly from: string;
	readonly to: string;
	readonly fastestKmPerH: number;
}

/** Every volunteer is held against all others: more than this take too long, and are no peers any more. */
const MOST_VOLUNTEERS = 1000;
/** No test becomes better by more, and a year's readings aren't this many. */
const MOST_READINGS_EACH = 1000;

interface Row extends Omit<ReportedReading, "place"> {
	readonly code: string;
	readonly timeZone: string;
	readonly latitudeDeg: number | null;
	readonly longitudeDeg: number | null;
}

/** Which volunteers' readings deserve a second look. */
export class ReadingChecks {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
	) {}

	/** @throws InputError `unknown-area`, `invalid-input`, `time-in-future`, `too-large` */
	async of({ areaCode, from, to, fastestKmPerH }: ReadingChecksAsked): Promise<ReadingFlags & { readonly period: Period }> {
		const tree = await AreaTree.of(this.store);
		const top = tree.named(areaCode);
		const period = periodOf({ from, to }, top.timeZone, this.clock.nowMs());
		const volunteers = await this.reported(
			tree.from(top).map(({ id }) => id),
			period,
		);
		const { water } = await currentPolicy(this.store);
		return { period, ...readingFlags(volunteers, { lowMgPerL: water.leastAtUseMgPerL, fastestKmPerH }) };
	}

	private async reported(areaIds: readonly string[], { fromMs, untilMs }: Period): Promise<ReportingVolunteer[]> {
		const { kind } = this.store;
		const areas = kind === "postgres" ? areaIds : JSON.stringify(areaIds);
		const who = "FROM residual_check r JOIN person p ON p.id = r.checker_id";
		const where = `WHERE p.role = 'volunteer' AND p.area_id ${among(kind, "$1")} AND r.checked_at_ms >= ${fromMs} AND r.checked_at_ms < ${untilMs}`;
		const [many] = await this.store.query<{ volunteers: number }>(
			`SELECT COUNT(DISTINCT r.checker_id) AS volunteers ${who} ${where}`,
			[areas],
		);
		const count = Number(many?.volunteers);
		if (count > MOST_VOLUNTEERS)
			throw new InputError(
				"too-large",
				`${count} volunteers reported in this period; ${MOST_VOLUNTEERS} at most are compared with each other. Ask for the areas below one by one.`,
				{ problems: [{ at: "area", message: `must have at most ${MOST_VOLUNTEERS} volunteers who reported` }] },
			);
		const rows = await this.store.query<Row>(
			`SELECT p.code, a.time_zone, h.id AS household_id, h.latitude_deg, h.longitude_deg, r.checked_at_ms AS at_ms, r.free_chlorine_mg_per_l
			 ${who} JOIN area a ON a.id = p.area_id JOIN container c ON c.id = r.container_id JOIN household h ON h.id = c.household_id ${where}
			 ORDER BY p.code, r.checked_at_ms, r.id`,
			[areas],
		);
		const byVolunteer = new Map<string, { timeZone: string; readings: ReportedReading[] }>();
		for (const { code, timeZone, latitudeDeg, longitudeDeg, householdId, atMs, freeChlorineMgPerL } of rows) {
			const of = byVolunteer.get(code) ?? { timeZone, readings: [] };
			const place = latitudeDeg === null || longitudeDeg === null ? null : { latitudeDeg, longitudeDeg };
			of.readings.push({ householdId, atMs: Number(atMs), freeChlorineMgPerL, place });
			byVolunteer.set(code, of);
		}
		return [...byVolunteer].map(([code, { timeZone, readings }]) => ({
			code,
			timeZone,
			readings: readings.slice(-MOST_READINGS_EACH),
		}));
	}
}
