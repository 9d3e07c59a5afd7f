import { setImmediate } from "node:timers/promises";
import type { Policy } from "../../programme/policy.js";
import { among } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import type { AreaInTree } from "./area-tree.js";
import { type Counts, NOTHING, together } from "./figure.js";
import type { Asked, Indicator, Subjects } from "./indicator.js";
import type { Period } from "./period.js";

type Reader = Pick<Store, "query" | "kind">;

/** Where and when is counted, and by which rules. */
export interface Scope {
	/** The area that was asked for and all below it. */
	readonly areas: readonly AreaInTree[];
	/** They are all the areas there are. */
	readonly isWhole: boolean;
	readonly policy: Policy;
	readonly period: Period;
}

/** So many are counted at once on SQLite: about a quarter of a second with a year's readings. */
const PART = 5000;

/** Ids after the one, up to and with the other. */
interface IdRange {
	readonly after: string;
	readonly upTo: string;
}

/** What indicators are asked of, writing what they need into the parameters of one statement. */
export function askedOf(
	kind: Asked["kind"],
	{ areas, isWhole, policy, period }: Scope,
	parameters: unknown[],
	ids?: IdRange,
): Asked {
	const place = (value: unknown) => `$${parameters.push(value)}`;
	let listed: string | undefined;
	const within = (column: string) => {
		if (isWhole) return "1 = 1";
		const areaIds = areas.map(({ id }) => id);
		listed ??= place(kind === "postgres" ? areaIds : JSON.stringify(areaIds));
		return `${column} ${among(kind, listed)}`;
	};
	const part = (column: string) => (ids ? `${column} > ${place(ids.after)} AND ${column} <= ${place(ids.upTo)}` : "1 = 1");
	return { kind, period, policy, place, within, part };
}

/** @returns counts by area, in the order of the indicators */
export async function counted(store: Reader, scope: Scope, wanted: readonly Indicator[]): Promise<Map<string, Counts[]>> {
	const counts = new Map<string, Counts[]>();
	for (const subjects of new Set(wanted.map((indicator) => indicator.subjects)))
		for (const ids of await partsOf(store, subjects, scope)) {
			for (const row of await countedOf(store, subjects, scope, wanted, ids)) {
				const { areaId, subjects: all } = row as unknown as { areaId: string; subjects: number };
				const ofArea = counts.get(areaId) ?? wanted.map(() => NOTHING);
				for (const [i, indicator] of wanted.entries()) {
					if (indicator.subjects !== subjects) continue;
					const denominator = Number(row[`denominator${i}`]);
					const more = { numerator: Number(row[`numerator${i}`] ?? 0), denominator, missing: Number(all) - denominator };
					ofArea[i] = together(ofArea[i] ?? NOTHING, more);
				}
				counts.set(areaId, ofArea);
			}
			// Whatever else waits in this process has its turn: SQLite lets nothing else happen while it counts.
			if (ids) await setImmediate();
		}
	return counts;
}

/** @returns ranges of ids that are counted one after the other; one without bounds where a single statement does for all */
async function partsOf(store: Reader, { partsOf: table }: Subjects, { isWhole }: Scope): Promise<(IdRange | undefined)[]> {
	if (store.kind !== "sqlite" || !isWhole || !table) return [undefined];
	const parts: IdRange[] = [];
	for (let after = ""; ; ) {
		const [last] = await store.query<{ id: string }>(
			`SELECT MAX(id) AS id FROM (SELECT id FROM ${table} WHERE id > $1 ORDER BY id LIMIT ${PART})`,
			[after],
		);
		if (!last?.id) return parts;
		parts.push({ after, upTo: last.id });
		after = last.id;
	}
}

/** One statement for all the indicators that are told from the same facts. */
function countedOf(store: Reader, subjects: Subjects, scope: Scope, wanted: readonly Indicator[], ids: IdRange | undefined) {
	const parameters: unknown[] = [];
	const facts = askedOf(store.kind, scope, parameters, ids);
	const rows = subjects.rows(facts);
	const own = wanted.flatMap((indicator, i) => (indicator.subjects === subjects ? [{ met: indicator.met(facts), i }] : []));
	const columns = own.map(({ met, i }) => `SUM(${met}) AS numerator${i}, COUNT(${met}) AS denominator${i}`).join(", ");
	return store.query(`SELECT area_id, COUNT(*) AS subjects, ${columns} FROM (${rows}) facts GROUP BY area_id`, parameters);
}
