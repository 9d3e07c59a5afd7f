import { flagOf } from "../options.js";
import type { forecastOptions } from "./options.js";
import type { ForecastReport } from "./report.js";

/** @returns what the forecast was made from, a line a subject; a star behind what was assumed */
export function describedLines({ batch, place, rules, tests, assumedOptions }: ForecastReport): string[] {
	const star = (name: keyof typeof forecastOptions) => (assumedOptions.includes(flagOf(name)) ? "*" : "");
	const pH =
		batch.pH === null
			? "pH not measured"
			: `pH ${batch.pH} by ${batch.pHBy}${star("phBy")} at ${batch.pHMeasuredAtC} °C${star("phAtC")}`;
	return [
		"FORECAST of a batch of bleach (* assumed, because it wasn't given)",
		"",
		`made   ${batch.strengthGPerL} g/L on ${batch.madeOn}${star("madeOn")}, log-sd ${batch.strengthLnSd}${star("strengthLnSd")}; ` +
			`today is day ${batch.ageDays}${star("ageDays")}`,
		`brine  salt ${batch.saltGPerL} g/L${star("saltGPerL")}, ${pH}`,
		`kept   ${batch.volumeL} L${star("volumeL")}, ${place.wall} wall${star("wall")}, ${place.exposure}${star("exposure")}, ` +
			`${place.litAreaM2} m² in the light${star("litAreaM2")}`,
		`place  ${place.dayMeanC} °C by day${star("dayC")}, ${place.nightMeanC} °C by night${star("nightC")}, ` +
			`cloud ${place.cloudFraction}${star("cloud")}, latitude ${place.latitudeDeg}°${star("latitude")}, ${place.altitudeM} m${star("altitudeM")}`,
		`rules  limit ${rules.usableLimitGPerL} g/L${star("limit")}, tolerated chance of less ${percent(rules.toleratedChance)}${star("tolerance")}, ` +
			`kit "${rules.testKit}"${star("kit")}`,
		...tests.map(
			(test) => `test   day ${test.day}: read ${test.reading}, ${test.sampleMl} mL made up to ${test.madeUpToL} L: ${said(test)}`,
		),
	];
}

function said({ lowGPerL, highGPerL, flag }: ForecastReport["tests"][number]): string {
	const low = lowGPerL.toFixed(1);
	if (flag === "mayBeBleached") return `${low} g/L or more, if the colour wasn't bleached away: dilute more next time`;
	if (highGPerL === Number.POSITIVE_INFINITY) return `${low} g/L or more`;
	return lowGPerL === highGPerL ? `${low} g/L` : `${low} to ${highGPerL.toFixed(1)} g/L`;
}

const percent = (share: number): string => `${Math.round(share * 1000) / 10} %`;
