import { rounded } from "../science/rounded.js";
import type { HouseholdWaterRow } from "../water/habits.js";
import { between, drawsFor, happens } from "./draws.js";
import type { Homes } from "./households.js";

/** Households that were asked how they use water. */
const ASKED_SHARE = 0.7;
/** Springs and boreholes that give out, so that the household draws from a river from July to September. */
const DRY_SHARE = 0.2;

/** @returns what households said of their use of water: litres for drinking and food, when they fill up, and the river of the dry months */
export function habitsOf(start: number, homes: Homes, askedAtMs: number): HouseholdWaterRow[] {
	return homes.households.flatMap(({ id, code, turbidity }): HouseholdWaterRow[] => {
		const draws = drawsFor(start, "habits", code);
		if (!happens(draws, ASKED_SHARE)) return [];
		const isDry = turbidity === "clear" && happens(draws, DRY_SHARE);
		return [
			{
				householdId: id,
				drinkingLPerPersonDay: rounded(between(draws, 2, 3.5), 1),
				foodLPerPersonDay: rounded(between(draws, 1.5, 3), 1),
				hygieneLPerPersonDay: null,
				refillEveryHours: happens(draws, 0.7) ? 24 : 48,
				seasonFromMonth: isDry ? 7 : null,
				seasonUntilMonth: isDry ? 9 : null,
				seasonSource: isDry ? "river" : null,
				seasonTurbidity: isDry ? "cloudy" : null,
				changedAtMs: askedAtMs,
			},
		];
	});
}
