import { DEMAND_HOURS, decayTemperatureFactor, hoursUntilBelow, residualMgPerL } from "./residual.js";
import { valueWithin } from "./valid-range.js";
import { type ThreePoints, waterClasses } from "./water-classes.js";

// Looked up once: where the global object is sandboxed, each `Math.` in these loops costs as much as the logarithm itself.
const { exp, hypot, log, max } = Math;

/** A reading of a household's treated water. */
export interface HouseholdReading {
	/** Dose of that fill, mg/L as Cl2, 0.1 to 20. */
	readonly doseMgPerL: number;
	/** Since dosing, h, 0.5 to 720. */
	readonly hours: number;
	/** Water in store, °C, 0 to 45. */
	readonly temperatureC: number;
	/** Free residual read, mg/L, 0 to 20. */
	readonly residualMgPerL: number;
}

/** What is believed of a household's water: a weight for each pair of demand and decay constant. */
export interface ResidualBelief {
	readonly nodes: readonly { readonly demandMgPerL: number; readonly kPerHourAt25C: number; readonly weight: number }[];
	/** 5, 50 and 95 % points of the demand: what a dose may be asked with. */
	readonly demandMgPerL: ThreePoints;
	readonly kPerHourAt25C: ThreePoints;
}

const NODES = 61;
/** z of the 95 % point: the defaults' low and high are read as 5 and 95 % points. */
const Z95 = 1.6449;
/** Reading error: part of the reading (residual kits 5 to 40 %, Murray & Lantagne 2015) and the least a comparator tells, mg/L. */
const RELATIVE_SD = 0.2;
const LEAST_SD_MG_PER_L = 0.1;

/** 5, 50 and 95 % points of weighted values; weights add up to 1. */
function pointsOf(values: readonly { readonly value: number; readonly weight: number }[]): ThreePoints {
	const sorted = values.filter(({ weight }) => weight > 0).sort((a, b) => a.value - b.value);
	const at = (share: number): number => {
		let sum = 0;
		for (const { value, weight } of sorted) {
			sum += weight;
			if (sum >= share - 1e-12) return value;
		}
		return sorted.at(-1)!.value;
	};
	return { low: at(0.05), median: at(0.5), high: at(0.95) };
}

/** What a single reading differs by from what lasts of a household's water; none of it where left out. */
export interface ReadingSpread {
	/** Log-sd of the demand from one day to the next, 0 to 2. */
	readonly demandDayLnSd: number;
	/** Log-sd of the dose against what is on file of it: the strength of the bleach, and how it was measured, 0 to 1. */
	readonly doseLnSd: number;
	/** How many times the spread of its class a household's demand may have before any reading, 1 to 4. */
	readonly classSdTimes: number;
}

/** ln of the likelihood, up to a constant; the spread depends on the node, so its ln belongs in it. @param otherSd mg/L of that reading */
function lnChance(readMgPerL: number, foreseenMgPerL: number, otherSd: number): number {
	const variance = LEAST_SD_MG_PER_L ** 2 + (RELATIVE_SD * foreseenMgPerL) ** 2 + otherSd ** 2;
	return -0.5 * ((readMgPerL - foreseenMgPerL) ** 2 / variance + log(variance));
}

/**
 * Demand and decay of a household's water from its own readings, on a grid.
 *
 * @param turbidity "clear" or "cloudy": where the belief starts before any reading
 * @param readings none or more, of any fills and doses; readings of 0 count like all others
 * @param spread what a reading differs by beside the kit's error
 * @returns weights over demand and decay constant at 25 °C with their 5, 50 and 95 % points; the defaults without readings
 * @throws RangeError for a reading outside its documented ranges
 * Source: Bayes' rule with a normal demand cut off at 0, a lognormal decay constant, and a normal reading error of 0.1 mg/L and 20 %
 * (Murray & Lantagne 2015 for the size); starting spreads are the defaults of the water's class.
 */
export function residualBelief(
	turbidity: "clear" | "cloudy",
	readings: readonly HouseholdReading[],
	{ demandDayLnSd, doseLnSd, classSdTimes }: ReadingSpread = { demandDayLnSd: 0, doseLnSd: 0, classSdTimes: 1 },
): ResidualBelief {
	valueWithin("log-sd of a day's demand", demandDayLnSd, 0, 2);
	valueWithin("log-sd of a dose", doseLnSd, 0, 1);
	valueWithin("times the spread of the class", classSdTimes, 1, 4);
	for (const reading of readings) {
		valueWithin("dose in mg/L", reading.doseMgPerL, 0.1, 20);
		valueWithin("time since dosing in h", reading.hours, 0.5, 720);
		valueWithin("residual in mg/L", reading.residualMgPerL, 0, 20);
		valueWithin("water temperature in °C", reading.temperatureC, 0, 45);
	}
	const { demandMgPerL: demand, kPerHour: k } = waterClasses[turbidity];
	const demandSd = (classSdTimes * (demand.high - demand.median)) / Z95;
	const lnKSd = Math.log(k.high / k.low) / (2 * Z95);
	const lnK = Math.log(Math.sqrt(k.high * k.low));
	// Out to five standard deviations: a household's water may be far from its class.
	const demandAt = (i: number) => ((demand.median + 5 * demandSd) * i) / (NODES - 1);
	const warmed = readings.map((reading) => ({ reading, factor: decayTemperatureFactor(reading.temperatureC) }));
	const kPerHourAt25C = Float64Array.from({ length: NODES }, (_, j) => exp(lnK + zAt(j) * lnKSd));
	// What a reading finds of a mg/L that its demand has left hangs on the decay constant alone.
	const left = warmed.map(({ reading, factor }) => kPerHourAt25C.map((kAt25C) => leftShare(kAt25C * factor, reading.hours)));
	const lnWeights = new Float64Array(NODES * NODES);
	let largest = Number.NEGATIVE_INFINITY;
	for (let i = 0; i < NODES; i++) {
		const demandMgPerL = demandAt(i);
		for (let j = 0; j < NODES; j++) {
			let ln = -0.5 * (((demandMgPerL - demand.median) / demandSd) ** 2 + zAt(j) ** 2);
			for (let k = 0; k < readings.length; k++) {
				const { doseMgPerL, residualMgPerL: read } = readings[k]!;
				const otherSd = hypot(demandDayLnSd * demandMgPerL, doseLnSd * doseMgPerL) * left[k]![j]!;
				ln += lnChance(read, max(0, doseMgPerL - demandMgPerL) * left[k]![j]!, otherSd);
			}
			lnWeights[i * NODES + j] = ln;
			if (ln > largest) largest = ln;
		}
	}
	const weights = lnWeights.map((ln) => exp(ln - largest));
	const total = weights.reduce((sum, weight) => sum + weight, 0);
	const byDemand = new Float64Array(NODES);
	const byDecay = new Float64Array(NODES);
	const nodes: { demandMgPerL: number; kPerHourAt25C: number; weight: number }[] = [];
	for (let i = 0; i < NODES; i++)
		for (let j = 0; j < NODES; j++) {
			const weight = weights[i * NODES + j]! / total;
			byDemand[i]! += weight;
			byDecay[j]! += weight;
			// All that are left out together weigh less than 1e-13.
			if (weight > NEGLIGIBLE) nodes.push({ demandMgPerL: demandAt(i), kPerHourAt25C: kPerHourAt25C[j]!, weight });
		}
	return {
		nodes,
		demandMgPerL: pointsOf(Array.from(byDemand, (weight, i) => ({ value: demandAt(i), weight }))),
		kPerHourAt25C: pointsOf(Array.from(byDecay, (weight, j) => ({ value: kPerHourAt25C[j]!, weight }))),
	};
}

/** A node of less than this is left out: 3721 of them are less than 1e-13. */
const NEGLIGIBLE = 2e-17;
const zAt = (j: number): number => -4 + (8 * j) / (NODES - 1);

/** What is left of 1 mg/L whose demand is met. Source: see `residualMgPerL`. */
const leftShare = (kPerHour: number, hours: number): number => exp(-kPerHour * (hours - DEMAND_HOURS));

/**
 * Residual and its life that a belief foresees for a dose.
 *
 * @param belief as `residualBelief` returns it
 * @param fill `doseMgPerL` 0 to 100 mg/L; `temperatureC` 0 to 45 °C; `hours` 0.5 to 720 h; `limitMgPerL` 0.01 to 10 mg/L (default 0.2)
 * @returns 5, 50 and 95 % points of the residual at that time and of the hours until it falls under the limit
 * @throws RangeError outside these ranges
 */
export function foreseenResidual(
	belief: ResidualBelief,
	fill: { readonly doseMgPerL: number; readonly temperatureC: number; readonly hours: number; readonly limitMgPerL?: number },
): { readonly residualMgPerL: ThreePoints; readonly hoursUntilBelow: ThreePoints } {
	const factor = decayTemperatureFactor(fill.temperatureC);
	const waters = belief.nodes.map(({ demandMgPerL, kPerHourAt25C, weight }) => ({
		water: { doseMgPerL: fill.doseMgPerL, demandMgPerL, kPerHour: kPerHourAt25C * factor },
		weight,
	}));
	return {
		residualMgPerL: pointsOf(waters.map(({ water, weight }) => ({ value: residualMgPerL(water, fill.hours), weight }))),
		hoursUntilBelow: pointsOf(waters.map(({ water, weight }) => ({ value: hoursUntilBelow(water, fill.limitMgPerL), weight }))),
	};
}

/**
 * Hours until the residual has fallen under a limit with a given chance.
 *
 * @param belief as `residualBelief` returns it
 * @param fill `doseMgPerL` 0 to 100 mg/L; `temperatureC` 0 to 45 °C; `limitMgPerL` 0.01 to 10 mg/L
 * @param chance above 0 and under 1
 * @returns h since dosing: the least after which that share of the belief lies under the limit; 0 where it does from the beginning,
 *   Infinity where it never does
 * @throws RangeError outside these ranges
 */
export function hoursUntilChanceUnder(
	belief: ResidualBelief,
	fill: { readonly doseMgPerL: number; readonly temperatureC: number; readonly limitMgPerL: number },
	chance: number,
): number {
	valueWithin("chance", chance, Number.MIN_VALUE, 1 - Number.EPSILON);
	const factor = decayTemperatureFactor(fill.temperatureC);
	const times = belief.nodes
		.map(({ demandMgPerL, kPerHourAt25C, weight }) => ({
			hours: hoursUntilBelow({ doseMgPerL: fill.doseMgPerL, demandMgPerL, kPerHour: kPerHourAt25C * factor }, fill.limitMgPerL),
			weight,
		}))
		.sort((a, b) => a.hours - b.hours);
	let sum = 0;
	for (const { hours, weight } of times) {
		sum += weight;
		if (sum >= chance - 1e-12) return hours;
	}
	return Number.POSITIVE_INFINITY;
}

/** @returns the chance that the residual is under a limit so many hours (0.5 to 720) after dosing @throws RangeError as above */
export function chanceUnder(
	belief: ResidualBelief,
	fill: { readonly doseMgPerL: number; readonly temperatureC: number; readonly limitMgPerL: number; readonly hours: number },
): number {
	const factor = decayTemperatureFactor(fill.temperatureC);
	return belief.nodes.reduce((sum, { demandMgPerL, kPerHourAt25C, weight }) => {
		const left = residualMgPerL({ doseMgPerL: fill.doseMgPerL, demandMgPerL, kPerHour: kPerHourAt25C * factor }, fill.hours);
		return left < fill.limitMgPerL ? sum + weight : sum;
	}, 0);
}
