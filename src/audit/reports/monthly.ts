import { InputError } from "../../errors/errors.js";
import type { Head } from "../../ledger/chain.js";
import { headOf, type Waiting, waitingOf } from "../../ledger/sealer.js";
import type { Store } from "../../store/store.js";
import type { Clock } from "../../time/clock.js";
import { lastOfMonth } from "../../time/local.js";
import { AreaTree } from "../coverage/area-tree.js";
import type { Coverage, CoverageReport } from "../coverage/coverage.js";
import type { Figure } from "../coverage/figure.js";
import { areaPlaces } from "../exports/exports.js";
import type { AreaPlace } from "../exports/geojson.js";
import type { SampleFindings } from "../sample/findings.js";
import { type MonthIncidents, monthIncidents } from "./month-incidents.js";
import { type MonthSample, monthSamples } from "./month-samples.js";

export interface MonthlyAsked {
	readonly areaCode: string;
	/** 'YYYY-MM'. */
	readonly month: string;
}

/** Everything that a monthly report says, as plain values. */
export interface MonthlyReport {
	/** 'YYYY-MM'. */
	readonly month: string;
	readonly coverage: CoverageReport;
	/** Up to twelve months, this one the last. */
	readonly months: readonly { readonly month: string; readonly figures: readonly Figure[] }[];
	readonly places: readonly AreaPlace[];
	readonly incidents: MonthIncidents;
	/** Independent samples that were drawn in it. */
	readonly samples: readonly MonthSample[];
	readonly madeAtMs: number;
	/** The state of the ledger from which it was made. */
	readonly head: Head;
	readonly waiting: Waiting;
}

const MONTHS_SHOWN = 12;

/** Puts together what a month came to. */
export class MonthlyReports {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly coverage: Coverage,
		private readonly findings: SampleFindings,
	) {}

	/** @throws InputError `invalid-input` for anything but a month, and as `Coverage.report` */
	async of({ areaCode, month }: MonthlyAsked): Promise<MonthlyReport> {
		if (!/^20\d\d-(0[1-9]|1[0-2])$/.test(month))
			throw new InputError("invalid-input", "A month is its year and number, such as 2026-10.", {
				problems: [{ at: "month", message: "must be a month from 2000-01 to 2099-12, such as 2026-10" }],
			});
		// What the figures are made from is at least what the head stands for.
		const [head, waiting] = [await headOf(this.store), await waitingOf(this.store)];
		const first = `${month}-01`;
		const last = lastOfMonth(first);
		const coverage = await this.coverage.report({ areaCode, from: first, to: last });
		const months = await this.coverage.byMonth({ areaCode, from: monthsBefore(month, MONTHS_SHOWN - 1), to: last });
		const shown = new Set(coverage.areas.map(({ code }) => code));
		const places = (await areaPlaces(this.store)).filter(({ code }) => shown.has(code));
		const tree = await AreaTree.of(this.store);
		const areaIds = tree.from(tree.named(areaCode)).map(({ id }) => id);
		return {
			month,
			coverage,
			incidents: await monthIncidents(this.store, areaIds, coverage.period),
			samples: await monthSamples(this.store, this.findings, areaIds, coverage.period),
			months: months.map(({ period, figures }) => ({ month: period.from.slice(0, 7), figures })),
			places: places.sort((a, b) => (a.code < b.code ? -1 : 1)),
			...{ madeAtMs: this.clock.nowMs(), head, waiting },
		};
	}
}

/** @returns the first day of a month so many before */
function monthsBefore(month: string, count: number): string {
	const [year = 0, number = 1] = month.split("-").map(Number);
	const index = year * 12 + number - 1 - count;
	return `${Math.floor(index / 12)}-${String((index % 12) + 1).padStart(2, "0")}-01`;
}
