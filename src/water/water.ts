import { currentPolicy } from "../programme/policy.js";
import type { MonthlyClimate } from "../science/climate.js";
import type { DoseAnswer } from "../science/dose.js";
import type { Batches } from "../stock/batches.js";
import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import { type ContainerClass, dayOfYear, todaysDose } from "./dose-card.js";

/** What water gets from a jar, whoever's it is; what a household's own protocol gives it stands in `HouseholdWater`. */
export class Water {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly batches: Batches,
	) {}

	/** @returns today's dose from a batch for one container of water, by the programme's rules. @throws InputError `unknown-subject` */
	async dose(batchCode: string, water: ContainerClass): Promise<DoseAnswer> {
		const { row, forecast } = await this.batches.now(batchCode);
		if (forecast.contradiction) return { kind: "refused", reason: "readingContradicts" };
		const climate = JSON.parse(row.climate) as MonthlyClimate[];
		const policy = await currentPolicy(this.store);
		return todaysDose(forecast.now, row.madeStrengthGPerL, water, climate, dayOfYear(this.clock.nowMs()), policy);
	}
}
