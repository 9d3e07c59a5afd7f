import { beliefAfter } from "../../src/science/belief.js";
import { COEFFICIENTS, dueCurveOf } from "../../src/science/due-curve.js";
import { dueInstantsMs } from "../../src/science/due-instants.js";
import { exposureCalendar } from "../../src/science/exposure.js";
import { comparatorWholeSteps } from "../../src/science/kits.js";
import { strengthTestOf } from "../../src/science/reading.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { type Figure, median } from "./figure.js";

const MILLION = 1_000_000;
const DAY_MS = 86_400_000;
const solution = { initialStrengthGPerL: 5, hoclFraction: 0.0246, lossRateAt25CPerDay: 0.0094 };
const curve = { solution, strengthExponent: 2 as const };

const climates = [18, 24, 30].map((night) =>
	Array.from({ length: 12 }, (_, month) => ({ dayMeanC: night + 8 + Math.sin(month), nightMeanC: night, cloudFraction: 0.4 })),
);

/** Due instants of a million jars, against the bare closed form evaluated once a jar in the same typed arrays. */
export async function run(): Promise<Figure[]> {
	const chance = new SeededRandomness(7);
	const calendars = climates.map((climate) =>
		exposureCalendar({
			latitudeDeg: -1.5,
			altitudeM: 1200,
			climate,
			wall: "translucent",
			exposure: "shade",
			solutionVolumeL: 5,
			litAreaM2: 0.03,
		}),
	);
	// Forty kinds of belief, some of them after tests; a real programme's beliefs differ no more for the arithmetic.
	const curves = Array.from({ length: 40 }, (_, i) => {
		const prior = { medianInitialGPerL: 4.4 + 0.04 * i, lnInitialSd: 0.15, medianRateMultiplier: 1, lnRateSd: 0.8 + 0.02 * i };
		const exposure = { equivalentDaysAt25C: 3, sunLossGPerL: 0.02 };
		const tests = i % 2 ? [strengthTestOf(comparatorWholeSteps, { sampleMl: 1, madeUpToL: 2 }, 2, exposure)] : [];
		return dueCurveOf(beliefAfter(prior, curve, tests), i % 2 ? exposure : { equivalentDaysAt25C: 0, sunLossGPerL: 0 }, 0.05);
	});
	const columns = {
		lowGPerL: new Float64Array(MILLION),
		lnRateCoefficients: new Float64Array(MILLION * COEFFICIENTS),
		limitGPerL: new Float64Array(MILLION).fill(3),
		referenceAtMs: new Float64Array(MILLION),
		place: new Uint32Array(MILLION),
	};
	for (let jar = 0; jar < MILLION; jar++) {
		const one = curves[jar % curves.length]!;
		columns.lowGPerL[jar] = one.lowGPerL;
		columns.lnRateCoefficients.set(one.lnRateCoefficients, jar * COEFFICIENTS);
		columns.referenceAtMs[jar] = Date.UTC(2026, 0, 1) + Math.floor(chance.fraction() * 365) * DAY_MS;
		columns.place[jar] = jar % calendars.length;
	}
	const ours: number[] = [];
	const bare: number[] = [];
	const before = process.memoryUsage();
	let held = 0;
	for (let round = 0; round < 7; round++) {
		bare.push(timeOf(() => bareLoop(columns.lowGPerL, columns.limitGPerL)));
		ours.push(timeOf(() => dueInstantsMs(columns, calendars, { shortestMs: DAY_MS, longestMs: 30 * DAY_MS })));
		const now = process.memoryUsage();
		held = Math.max(held, now.arrayBuffers + now.heapUsed - (before.heapUsed - 8e6));
	}
	const reading = strengthTestOf(comparatorWholeSteps, { sampleMl: 1, madeUpToL: 2 }, 2, {
		equivalentDaysAt25C: 8,
		sunLossGPerL: 0,
	});
	const prior = { medianInitialGPerL: 5, lnInitialSd: 0.15, medianRateMultiplier: 1, lnRateSd: 1.25 };
	for (let i = 0; i < 200; i++) beliefAfter(prior, curve, [reading]);
	const updates = Array.from({ length: 200 }, () => timeOf(() => beliefAfter(prior, curve, [reading])));
	return [
		{
			name: "due instants of 1,000,000 jars",
			value: median(ours),
			floor: median(bare),
			unit: "ms",
			bar: "under 30x the bare closed form",
		},
		{ name: "belief after one reading", value: median(updates), floor: 1, unit: "ms", bar: "under 1 ms" },
		{ name: "memory for the million, inputs included", value: held / 1e6, floor: 200, unit: "MB", bar: "under 200 MB" },
	];
}

function timeOf(work: () => unknown): number {
	const began = performance.now();
	work();
	return performance.now() - began;
}

/** One exponential and one logarithm a jar: the closed form of a strength and of the time to a limit. */
function bareLoop(lowGPerL: Float64Array, limitGPerL: Float64Array): Float64Array {
	const due = new Float64Array(lowGPerL.length);
	for (let jar = 0; jar < lowGPerL.length; jar++) {
		const later = lowGPerL[jar]! * Math.exp(-0.0094 * 5);
		due[jar] = later > limitGPerL[jar]! ? Math.log(later / limitGPerL[jar]!) / 0.0094 : 0;
	}
	return due;
}
