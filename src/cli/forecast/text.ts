import { tableLines } from "../table.js";
import { forecastOptions } from "./options.js";
import type { ForecastReport, ForecastRow, ShortDose } from "./report.js";

/** @returns the forecast as a person reads it */
export function forecastText(report: ForecastReport): string {
	return [
		...described(report),
		"",
		...conclusions(report),
		"",
		...tableLines(HEADINGS, report.rows.map(cells)),
		"",
		"Strengths are g/L of available chlorine with the 90 % interval; chlorate is what has formed in the jar, mg/L; doses are mL for 20 L.",
		...notes(report),
		"",
	].join("\n");
}

const HEADINGS = ["day", "date", "strength", "90 % interval", "too weak", "chlorate", "clear", "cloudy", ""];

function described({ asked, assumed, ageDays, tests }: ForecastReport): string[] {
	const marked = (name: keyof typeof forecastOptions, text: string) => (assumed.includes(name) ? `${text}*` : text);
	const ph = asked.ph === undefined ? "pH not measured" : `pH ${asked.ph} by ${asked.phBy ?? "strip"}`;
	return [
		`A batch of ${asked.strength} g/L, ${ph}, ${marked("saltGPerL", `salt ${asked.saltGPerL} g/L`)}, made ${marked("madeOn", asked.madeOn)}, ${trimmed(ageDays)} days old`,
		`${marked("volumeL", `${asked.volumeL} L`)} in a jar with ${marked("wall", `${asked.wall} wall`)}, ${marked("exposure", asked.exposure)}, at ${marked("dayC", `${asked.dayC} °C by day`)} and ${marked("nightC", `${asked.nightC} °C by night`)}`,
		...tests.map(
			({ day, reading, lowGPerL, highGPerL, flag }) =>
				`tested on day ${trimmed(day)}: read ${reading}, so ${lowGPerL.toFixed(1)} g/L ${Number.isFinite(highGPerL) ? `to ${highGPerL.toFixed(1)} g/L` : "or more"}${flag === "mayBeBleached" ? " (the colour may have been bleached away)" : ""}`,
		),
		"* assumed, because it wasn't given",
	];
}

function conclusions({
	retest,
	retestReason,
	verdict,
	asked,
	nextDilution,
	expectedRemainingDays,
	rules,
	doubtfulTests,
}: ForecastReport): string[] {
	const percent = trimmed(asked.tolerance * 100);
	const reasons = {
		chancePassesTolerance: `the chance of being under ${asked.limit} g/L reaches ${percent} % then`,
		alreadyPassed: `the chance of being under ${asked.limit} g/L is above ${percent} % already, and no test follows another sooner than ${rules.shortestRetestDays} days`,
		shortestTime: `the chance of being under ${asked.limit} g/L passes ${percent} % before, and no test follows another sooner than ${rules.shortestRetestDays} days`,
		longestTime: `it stays safe for long, but no jar goes untested for more than ${rules.longestRetestDays} days`,
		none: "no test is asked for any more",
	} as const;
	const first =
		retest === null
			? verdict === "weak"
				? "Not for drinking water any more: it is probably too weak."
				: `Not for drinking water any more: older than ${rules.oldestUseDays} days.`
			: `Test again on day ${retest.day.toFixed(1)} (${retest.date}): ${reasons[retestReason]}.`;
	return [
		first,
		...(retest === null
			? []
			: [`Most telling at that test: ${nextDilution.sampleMl} mL made up with water to ${nextDilution.madeUpToL} L.`]),
		`Expected to stay usable for ${expectedRemainingDays.toFixed(0)} days more.`,
		...(doubtfulTests > 0
			? [`${doubtfulTests} reading(s) would have been very unlikely: look at the test, the dilution and the jar.`]
			: []),
	];
}

function cells(row: ForecastRow): string[] {
	return [
		row.retestDue ? row.day.toFixed(1) : trimmed(row.day),
		row.date,
		row.medianGPerL.toFixed(2),
		`${row.lowGPerL.toFixed(2)} - ${row.highGPerL.toFixed(2)}`,
		`${(row.chanceUnderLimit * 100).toFixed(1)} %`,
		row.chlorateInJarMgPerL.toFixed(0),
		dosed(row.doseFor20L.clear),
		dosed(row.doseFor20L.cloudy),
		row.retestDue ? "< test" : row.verdict === "weak" || row.verdict === "too old" ? "not for drinking" : "",
	];
}

function dosed(dose: ShortDose): string {
	return dose.kind === "dose" ? String(dose.volumeMl) : "-";
}

const NOTES = {
	pHNotMeasured: "The pH wasn't measured: one strip reading would narrow the interval more than anything else.",
	pHTemperatureTakenAs25C: "The pH was taken to be measured at 25 °C.",
	tooAcidToStore: "Under pH 8.4 it can't be stored: it loses strength within hours to days. Use it at once; never add acid.",
	activityCorrectionExtrapolated: "So much salt (above 0.5 mol/L) stretches the activity correction.",
	activityCorrectionEnded:
		"So much salt (above 1 mol/L) is past the activity correction; the one at 1 mol/L is taken, which errs to a faster loss.",
	strengthOutsideModel: "Outside 2 to 10 g/L the rates are extrapolated.",
	metalsPossible: "Iron, copper, nickel or cobalt in the water would speed up the loss.",
} as const;

function notes({ notes: found }: ForecastReport): string[] {
	return [
		...found.map((note) => NOTES[note]),
		"A forecast says when to test; a test always wins. Chlorine leaves Cryptosporidium alive and takes out no chemical pollution.",
		"What the local health authority prescribes comes first.",
	];
}

const trimmed = (value: number): string => String(Math.round(value * 100) / 100);
