import { escaped } from "../../charts/svg.js";
import { DAY_MS } from "../../time/clock.js";
import { lastOfMonth } from "../../time/local.js";
import type { CoverageReport } from "../coverage/coverage.js";

/** Of the set of figures; never changed once released. */
const DATA_SET = "JARWATCH_COVERAGE";

/**
 * Figures as an ADX document: a group for each area, with numerator, denominator and missing of each indicator as data elements of their
 * own (`households-visited.numerator`). Shares are the receiver's to reckon: a share doesn't add up over areas.
 *
 * `exported` is the instant up to which was counted: the same figures give the same bytes, whenever they are written.
 *
 * Source: IHE QRPH, Aggregate Data Exchange (ADX), namespace urn:ihe:qrph:adx:2015, by the profile's stylesheet that makes its schema:
 * adx has `exported` and one group or more; a group has `orgUnit`, `period` and one dataValue or more; a dataValue has `dataElement` and a
 * decimal `value`. Period as SDMX 2.1 has a time range (SDMXCommon.xsd, TimeRangeType): its first day, a stroke, and how long it is.
 */
export function figuresAdx(report: CoverageReport): string {
	const { period, areas } = report;
	const groups = areas.map(({ code, figures }) => {
		const values = figures.flatMap((figure) =>
			(["numerator", "denominator", "missing"] as const).map(
				(part) => `\t\t<dataValue dataElement="${escaped(`${figure.indicator}.${part}`)}" value="${figure[part]}"/>`,
			),
		);
		return `\t<group orgUnit="${escaped(code)}" period="${timeRange(period)}" dataSet="${DATA_SET}">\n${values.join("\n")}\n\t</group>`;
	});
	const exported = new Date(period.untilMs).toISOString();
	return `<?xml version="1.0" encoding="UTF-8"?>\n<adx xmlns="urn:ihe:qrph:adx:2015" exported="${exported}">\n${groups.join("\n")}\n</adx>\n`;
}

/** @returns `2026-10-01/P1M` for a whole calendar month, `2026-10-05/P20D` for anything else */
function timeRange({ from, to }: CoverageReport["period"]): string {
	const isMonth = from.endsWith("-01") && to === lastOfMonth(from);
	return isMonth ? `${from}/P1M` : `${from}/P${(Date.parse(to) - Date.parse(from)) / DAY_MS + 1}D`;
}
