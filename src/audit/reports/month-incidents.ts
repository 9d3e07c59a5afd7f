import { among } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import { DAY_MS } from "../../time/clock.js";
import type { Period } from "../coverage/period.js";
import { incidentKinds } from "../incidents/list.js";
import type { IncidentState } from "../incidents/rows.js";

/** Incidents of one kind. */
export interface KindOfMonth {
	readonly kind: string;
	/** What it is, in words. */
	readonly words: string;
	/** Opened within the month. */
	readonly opened: number;
	/** Closed within the month, whenever they were opened. */
	readonly closed: number;
	/** Nobody had begun to look into them when the month ended, or until now. */
	readonly open: number;
	/** Looked into, and not closed then. */
	readonly lookedInto: number;
}

export interface LongOpen {
	readonly kind: string;
	/** Code of what it is about. */
	readonly about: string;
	readonly areaCode: string;
	readonly openedAtMs: number;
	readonly days: number;
	readonly state: IncidentState;
}

export interface MonthIncidents {
	readonly kinds: readonly KindOfMonth[];
	/** Those that had been open longest, the oldest first. */
	readonly longest: readonly LongOpen[];
}

interface Counted {
	readonly kind: string;
	readonly opened: number;
	readonly closed: number;
	readonly open: number;
	readonly lookedInto: number;
}

type Row = Omit<LongOpen, "about" | "days" | "state"> & { readonly found: string; readonly lookedIntoAtMs: number | null };

const MOST_NAMED = 8;

/**
 * @param areaIds the areas of the report
 * @returns the incidents of a month as they stood at its end, whatever became of them later: the same month gives the same figures
 */
export async function monthIncidents(
	store: Store,
	areaIds: readonly string[],
	{ fromMs, untilMs }: Pick<Period, "fromMs" | "untilMs">,
): Promise<MonthIncidents> {
	const here = `area_id ${among(store.kind, "$1")} AND opened_at_ms < $3`;
	const notClosed = "(closed_at_ms IS NULL OR closed_at_ms >= $3)";
	const sum = (condition: string) => `SUM(CASE WHEN ${condition} THEN 1 ELSE 0 END)`;
	const counted = await store.query<Counted>(
		`SELECT kind, ${sum("opened_at_ms >= $2")} AS opened, ${sum("closed_at_ms >= $2 AND closed_at_ms < $3")} AS closed,
		 ${sum(`${notClosed} AND (looked_into_at_ms IS NULL OR looked_into_at_ms >= $3)`)} AS open,
		 ${sum(`${notClosed} AND looked_into_at_ms < $3`)} AS looked_into
		 FROM incident WHERE ${here} GROUP BY kind`,
		[areaIds, fromMs, untilMs],
	);
	const longest = await store.query<Row>(
		`SELECT i.kind, i.found, a.code AS area_code, i.opened_at_ms, CASE WHEN i.looked_into_at_ms < $2 THEN i.looked_into_at_ms END AS looked_into_at_ms
		 FROM incident i JOIN area a ON a.id = i.area_id
		 WHERE i.area_id ${among(store.kind, "$1")} AND i.opened_at_ms < $2 AND (i.closed_at_ms IS NULL OR i.closed_at_ms >= $2)
		 ORDER BY i.opened_at_ms, i.id LIMIT ${MOST_NAMED}`,
		[areaIds, untilMs],
	);
	const none = { opened: 0, closed: 0, open: 0, lookedInto: 0 };
	return {
		kinds: incidentKinds().map(({ name, words }) => {
			const { opened, closed, open, lookedInto } = counted.find(({ kind }) => kind === name) ?? none;
			return {
				...{ kind: name, words, opened: Number(opened), closed: Number(closed) },
				...{ open: Number(open), lookedInto: Number(lookedInto) },
			};
		}),
		longest: longest.map(({ found, lookedIntoAtMs, openedAtMs, kind, areaCode }) => ({
			...{ kind, areaCode, openedAtMs: Number(openedAtMs), about: aboutIn(found) },
			days: Math.floor((untilMs - Number(openedAtMs)) / DAY_MS),
			state: lookedIntoAtMs === null ? ("open" as const) : ("looked into" as const),
		})),
	};
}

function aboutIn(found: string): string {
	const { about } = JSON.parse(found) as Record<string, unknown>;
	return typeof about === "string" ? about : "–";
}
