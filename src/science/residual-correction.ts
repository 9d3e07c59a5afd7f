import { bleachMl } from "./dose-volume.js";
import { valueWithin } from "./valid-range.js";

const residual = (name: string, mgPerL: number): number => valueWithin(`${name} in mg/L`, mgPerL, 0, 50);

/** A dose corrected by the residual that it left. */
export interface CorrectedDose {
	/** mg/L that the water took. When the residual reads 0 it took at least this much. */
	readonly demandMgPerL: number;
	readonly doseMgPerL: number;
	/** A residual of 0 tells only the least demand: a jar test says more. */
	readonly atLeast: boolean;
}

/**
 * Next dose for a water whose residual was too low after the contact time.
 *
 * @param water `doseMgPerL` given, 0 to 20 mg/L; `residualMgPerL` read, 0 to 50 mg/L; `targetMgPerL` 0.2 to 5 mg/L
 * @returns demand and the dose that would leave the target; wait again after it
 * @throws RangeError outside these ranges, or for a residual above the dose
 * Source: demand = dose - residual; new dose = demand + target.
 */
export function correctedDose(water: {
	readonly doseMgPerL: number;
	readonly residualMgPerL: number;
	readonly targetMgPerL: number;
}): CorrectedDose {
	const dose = valueWithin("dose in mg/L", water.doseMgPerL, 0, 20);
	const left = valueWithin("residual in mg/L", water.residualMgPerL, 0, dose, "more left than was given: check dose and reading");
	const demandMgPerL = dose - left;
	return {
		demandMgPerL,
		doseMgPerL: demandMgPerL + valueWithin("target in mg/L", water.targetMgPerL, 0.2, 5),
		atLeast: left === 0,
	};
}

/**
 * Bleach to add to a container whose residual is low.
 *
 * @param container `residualMgPerL` now and `targetMgPerL`, 0 to 50 mg/L; `waterVolumeL` 0.1 to 1 000 000 L; `strengthGPerL`
 *   0.1 to 150 g/L
 * @returns mL, 0 when the target is reached; a lower bound: it takes the demand as met
 * @throws RangeError outside these ranges
 * Top up once. Still too low after that: test the bleach, look at turbidity, container and ammonia, and tell the supervisor.
 */
export function topUpMl(container: {
	readonly residualMgPerL: number;
	readonly targetMgPerL: number;
	readonly waterVolumeL: number;
	readonly strengthGPerL: number;
}): number {
	const missing = residual("target", container.targetMgPerL) - residual("residual", container.residualMgPerL);
	return bleachMl({ ...container, doseMgPerL: Math.max(0, missing) });
}

/**
 * Treated water to mix in when the residual is too high.
 *
 * @param container `waterVolumeL` 0.1 to 1 000 000 L; `residualMgPerL` now, `targetMgPerL` and `otherResidualMgPerL` of the water that
 *   is mixed in (default 0), 0 to 50 mg/L
 * @returns L of treated water, 0 when the target isn't exceeded
 * @throws RangeError outside these ranges, or when the other water is no weaker than the target
 * Above 5 mg/L: not to be drunk until diluted. The other water must be safe to drink by itself. Source: blending, C1 V1 + C2 V2.
 */
export function dilutionWaterL(container: {
	readonly waterVolumeL: number;
	readonly residualMgPerL: number;
	readonly targetMgPerL: number;
	readonly otherResidualMgPerL?: number;
}): number {
	const volumeL = valueWithin("water in L", container.waterVolumeL, 0.1, 1_000_000);
	const target = residual("target", container.targetMgPerL);
	const other = container.otherResidualMgPerL ?? 0;
	const excess = residual("residual", container.residualMgPerL) - target;
	if (excess <= 0) return 0;
	if (!(other >= 0 && other < target)) {
		throw new RangeError(`residual of the water mixed in must be 0 to under ${target} mg/L, got ${other}`);
	}
	return (volumeL * excess) / (target - other);
}
