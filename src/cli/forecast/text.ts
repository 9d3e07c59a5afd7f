import type { SolutionNote } from "../../science/solution.js";
import { tableLines } from "../table.js";
import { describedLines } from "./described-text.js";
import { DOSED_L, type ForecastReport, type ForecastRow, type ShortDose } from "./report.js";

/** @returns the forecast as a person reads it */
export function forecastText(report: ForecastReport): string {
	const { usableLimitGPerL } = report.rules;
	return [
		...describedLines(report),
		"",
		...conclusions(report),
		"",
		...tableLines(
			["day", "date", "g/L", "90 % interval", `under ${usableLimitGPerL}`, "chlorate", "clear", "cloudy", "the jar is"],
			report.rows.map(cells),
		),
		"",
		"g/L of available chlorine: as likely more as less; 1 in 20 that it is below the interval, 1 in 20 above.",
		`Under ${usableLimitGPerL}: chance of it. Chlorate: mg/L in the jar. Clear, cloudy: mL of bleach for ${DOSED_L} L of such water.`,
		...report.notes.map((note) => NOTES[note]),
		...CAUTIONS,
		"",
	].join("\n");
}

function conclusions({
	retest,
	verdict,
	rules,
	nextDilution,
	expectedRemainingDays,
	doubtfulTests,
	...of
}: ForecastReport): string[] {
	const limit = `the chance of being under ${rules.usableLimitGPerL} g/L`;
	const percent = `${trimmed(rules.toleratedChance * 100)} %`;
	const soonest = `no test follows another sooner than ${days(rules.shortestRetestDays)}`;
	const isNow = retest?.day === of.batch.ageDays;
	const reasons = {
		chancePassesTolerance: `${limit} passes ${percent} then`,
		alreadyPassed: isNow ? `${limit} is above ${percent} already` : `${limit} is above ${percent} already, and ${soonest}`,
		shortestTime: `${limit} passes ${percent} before, and ${soonest}`,
		longestTime: `${limit} stays below ${percent} for longer, but no jar goes untested for more than ${days(rules.longestRetestDays)}`,
		calendar: "the programme tests by a fixed calendar",
		contradicted: "the last reading was hardly possible by what was believed before it; a fresh sample says which is right",
		none: "",
	} as const;
	const { sampleMl, madeUpToL } = nextDilution;
	const first =
		retest === null
			? [
					verdict === "test first"
						? "Not for drinking water: its readings don't fit together. Look at jar, place, dilution and record."
						: verdict === "weak"
							? "Not for drinking water any more: it is probably too weak. No test is asked for."
							: `Not for drinking water any more: older than ${days(rules.oldestUseDays)}. No test is asked for.`,
				]
			: [
					`Test ${isNow ? "now" : "again"}: day ${trimmed(retest.day)}, ${retest.date}.`,
					`Why: ${reasons[of.retestReason]}.`,
					`Most telling at that test: ${sampleMl} mL made up with water to ${madeUpToL} L.`,
				];
	return [
		...first,
		`Expected remaining life: ${expectedRemainingDays.toFixed(expectedRemainingDays < 10 ? 1 : 0)} days above the limit.`,
		...(doubtfulTests > 0
			? [
					`Readings that were very unlikely: ${doubtfulTests}. Look at the test, the dilution and the jar before believing any of them.`,
				]
			: []),
	];
}

const VERDICTS = {
	usable: "usable",
	"test first": "test first",
	weak: "not for drinking",
	"too old": "not for drinking",
} as const;

function cells(row: ForecastRow): string[] {
	return [
		trimmed(row.day),
		row.date,
		row.medianGPerL.toFixed(2),
		`${row.lowGPerL.toFixed(2)} - ${row.highGPerL.toFixed(2)}`,
		`${(row.chanceUnderLimit * 100).toFixed(1)} %`,
		row.chlorateInJarMgPerL.toFixed(0),
		dosed(row.doseFor20L.clear),
		dosed(row.doseFor20L.cloudy),
		row.retestDue ? `${VERDICTS[row.verdict]} < test` : VERDICTS[row.verdict],
	];
}

const NO_DOSE: Readonly<Record<Exclude<ShortDose, { kind: "dose" }>["reason"], string>> = {
	strengthTooUncertain: "test first",
	measureTooCoarse: "finer measure",
	demandTooUncertain: "jar test first",
	readingContradicts: "test first",
	tooWeak: "none",
	underLimit: "none",
	tooOld: "none",
	tooTurbid: "none",
};

const dosed = (dose: ShortDose): string => (dose.kind === "dose" ? String(dose.volumeMl) : NO_DOSE[dose.reason]);

const NOTES: Readonly<Record<SolutionNote, string>> = {
	pHNotMeasured: "The pH wasn't measured: one strip reading would narrow the interval more than anything else.",
	pHTemperatureTakenAs25C: "The pH was taken to be measured at 25 °C.",
	tooAcidToStore: "Under pH 8.4 it can't be stored: it loses strength within hours to days. Use it at once; never add acid.",
	activityCorrectionExtrapolated: "Above 29 g/L of salt (0.5 mol/L) the activity correction is stretched.",
	activityCorrectionEnded:
		"Above 58 g/L of salt (1 mol/L) the activity correction ends; that of 1 mol/L is taken, which errs to a faster loss.",
	strengthOutsideModel: "Outside 2 to 10 g/L the rates are extrapolated.",
	metalsPossible: "Iron, copper, nickel or cobalt in the water would speed up the loss.",
};

const CAUTIONS = [
	"A forecast says when to test; a test always wins. Stir, cover and wait before drinking: a dose card says how long.",
	"Chlorine leaves Cryptosporidium alive and takes out no chemical pollution.",
	"What the local health authority and licensed practice prescribe comes first.",
];

const days = (count: number): string => `${trimmed(count)} day${count === 1 ? "" : "s"}`;
const trimmed = (value: number): string => String(Math.round(value * 10) / 10);
