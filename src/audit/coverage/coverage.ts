import { InputError } from "../../errors/errors.js";
import { currentPolicy } from "../../programme/policy.js";
import type { Store } from "../../store/store.js";
import type { Clock } from "../../time/clock.js";
import { localDateOf } from "../../time/local.js";
import { AreaTree, rolledUp } from "./area-tree.js";
import { askedOf, counted, type Scope } from "./counting.js";
import { type Figure, figureOf, NOTHING, together } from "./figure.js";
import { type Definition, definitionOf, type Indicator } from "./indicator.js";
import { indicators } from "./list.js";
import { monthsOf, type Period, periodOf } from "./period.js";

/** Where and when; local dates in the area's zone, both days included. */
export interface CoverageAsked {
	readonly areaCode: string;
	readonly from: string;
	readonly to: string;
	/** Codes of indicators; left out: all. */
	readonly indicators?: readonly string[] | undefined;
}

export interface AreaFigures {
	readonly code: string;
	readonly name: string;
	/** None for the area that was asked for. */
	readonly parentCode: string | null;
	/** 0 for the area that was asked for. */
	readonly depth: number;
	/** In the order of the definitions. */
	readonly figures: readonly Figure[];
}

/** Coverage of an area and of all below it: the same facts give the same report to the last byte. */
export interface CoverageReport {
	readonly area: { readonly code: string; readonly name: string };
	readonly period: Period;
	readonly definitions: readonly Definition[];
	/** Of the area with all below it. */
	readonly figures: readonly Figure[];
	/** The area and all below it, each before those below it, sisters by code; each with all below itself. */
	readonly areas: readonly AreaFigures[];
}

/** Which of the records behind a figure. */
export type RecordSet = "numerator" | "denominator" | "missing" | "rest";

/** The statement that gives the records behind a figure: `id`, `code`, `area_code` from `s` and `a`. */
export interface RecordsStatement {
	readonly statement: string;
	readonly condition: string;
	readonly parameters: readonly unknown[];
}

/** Coverage: what is done, of all that should be. */
export class Coverage {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
	) {}

	/** @returns every definition, with the figures of the programme's rules in its words */
	async definitions(): Promise<Definition[]> {
		const policy = await currentPolicy(this.store);
		return indicators.map((indicator) => definitionOf(indicator, policy));
	}

	/** @throws InputError `unknown-area`, `unknown-indicator`, `invalid-input`, `time-in-future` */
	async report(asked: CoverageAsked): Promise<CoverageReport> {
		const scope = await this.scopeOf(asked);
		const wanted = indicatorsNamed(asked.indicators);
		const counts = await counted(this.store, scope, wanted);
		const sums = wanted.map((_, i) => rolledUp(scope.areas, (areaId) => counts.get(areaId)?.[i] ?? NOTHING, together));
		const codes = new Map(scope.areas.map(({ id, code }) => [id, code]));
		const areas = scope.areas.map(({ id, parentId, code, name, depth }) => ({
			...{ code, name, depth, parentCode: depth === 0 ? null : (codes.get(parentId ?? "") ?? null) },
			figures: wanted.map((indicator, i) => figureOf(indicator.code, sums[i]?.get(id) ?? NOTHING)),
		}));
		const top = areas[0] as AreaFigures;
		return {
			area: { code: top.code, name: top.name },
			period: scope.period,
			definitions: wanted.map((indicator) => definitionOf(indicator, scope.policy)),
			figures: top.figures,
			areas,
		};
	}

	/** @returns the area's figures of each calendar month of the period, the first and last cut to it; months to come are left out */
	async byMonth(asked: CoverageAsked): Promise<{ period: Period; figures: readonly Figure[] }[]> {
		const { period, ...scope } = await this.scopeOf(asked);
		const wanted = indicatorsNamed(asked.indicators);
		const nowMs = this.clock.nowMs();
		const months: { period: Period; figures: readonly Figure[] }[] = [];
		for (const days of monthsOf(period, localDateOf(nowMs, period.timeZone))) {
			if (months.at(-1)?.period.isPartial) break;
			const month = periodOf(days, period.timeZone, nowMs);
			const counts = [...(await counted(this.store, { ...scope, period: month }, wanted)).values()];
			const figures = wanted.map(({ code }, i) => figureOf(code, counts.map((of) => of[i] ?? NOTHING).reduce(together, NOTHING)));
			months.push({ period: month, figures });
		}
		return months;
	}

	/** @returns how to read the records that a figure was counted from. @throws InputError as `report` */
	async records(asked: CoverageAsked & { readonly indicator: string }, set: RecordSet): Promise<RecordsStatement> {
		const scope = await this.scopeOf(asked);
		const [indicator] = indicatorsNamed([asked.indicator]) as [Indicator];
		const parameters: unknown[] = [];
		const facts = askedOf(this.store.kind, scope, parameters);
		return {
			statement: `SELECT s.id, s.code, a.code AS area_code FROM (SELECT id, code, area_id, ${indicator.met(facts)} AS met FROM (${indicator.subjects.rows(facts)}) facts) s JOIN area a ON a.id = s.area_id`,
			condition: CONDITIONS[set],
			parameters,
		};
	}

	private async scopeOf({ areaCode, from, to }: CoverageAsked): Promise<Scope> {
		const tree = await AreaTree.of(this.store);
		const top = tree.named(areaCode);
		const areas = tree.from(top);
		const policy = await currentPolicy(this.store);
		const period = periodOf({ from, to }, top.timeZone, this.clock.nowMs());
		return { areas, isWhole: tree.isWhole(areas), policy, period };
	}
}

const CONDITIONS: Readonly<Record<RecordSet, string>> = {
	numerator: "s.met = 1",
	denominator: "s.met IS NOT NULL",
	missing: "s.met IS NULL",
	rest: "s.met = 0",
};

/** @throws InputError `unknown-indicator` that names those there are */
function indicatorsNamed(codes: readonly string[] | undefined): readonly Indicator[] {
	if (codes === undefined) return indicators;
	const unknown = codes.find((code) => !indicators.some((indicator) => indicator.code === code));
	if (unknown !== undefined)
		throw new InputError("unknown-indicator", `There is no indicator ${unknown}.`, {
			problems: [{ at: "indicator", message: `must be one of ${indicators.map(({ code }) => code).join(", ")}` }],
		});
	return indicators.filter(({ code }) => codes.includes(code));
}
