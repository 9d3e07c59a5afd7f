import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { mostContainerL, tooLarge } from "../programme/container-size.js";
import { currentPolicy } from "../programme/policy.js";
import { type ContainerKind, ContainerRow } from "../programme/rows.js";
import { householdsChanged } from "../stock/due-work.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { localDateOf } from "../time/local.js";
import { planContainers } from "./first-plan.js";
import type { WaterHabits } from "./habits.js";

export interface NewContainer {
	readonly code: string;
	readonly volumeL: number;
	readonly kind: ContainerKind;
	/** 'YYYY-MM-DD' in the area's zone. */
	readonly lastCleanedOn: string | null;
}

/** What a household has and does with water: its containers, and how it uses them. */
export class HouseholdFacts {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/** Sets a household's habits; what isn't given is the programme's from now on. @throws InputError `unknown-subject` (404) */
	setHabits(householdCode: string, habits: Required<WaterHabits>): Promise<void> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const household = await householdNamed(tx, householdCode);
			const { seasonFromMonth, seasonUntilMonth, seasonSource, seasonTurbidity } = habits;
			const { drinkingLPerPersonDay, foodLPerPersonDay, hygieneLPerPersonDay, refillEveryHours } = habits;
			const litres = [drinkingLPerPersonDay, foodLPerPersonDay, hygieneLPerPersonDay];
			await tx.affected(
				`INSERT INTO household_water (household_id, drinking_l_per_person_day, food_l_per_person_day, hygiene_l_per_person_day, refill_every_hours,
				 season_from_month, season_until_month, season_source, season_turbidity, changed_at_ms) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
				 ON CONFLICT (household_id) DO UPDATE SET drinking_l_per_person_day = excluded.drinking_l_per_person_day,
				 food_l_per_person_day = excluded.food_l_per_person_day, hygiene_l_per_person_day = excluded.hygiene_l_per_person_day,
				 refill_every_hours = excluded.refill_every_hours, season_from_month = excluded.season_from_month,
				 season_until_month = excluded.season_until_month, season_source = excluded.season_source,
				 season_turbidity = excluded.season_turbidity, changed_at_ms = excluded.changed_at_ms`,
				[household.id, ...litres, refillEveryHours, seasonFromMonth, seasonUntilMonth, seasonSource, seasonTurbidity, nowMs],
			);
			await householdsChanged(tx, [household.id], nowMs);
			await this.tell(tx, household, "household's habits set", { ...habits });
		});
	}

	/** @throws InputError `unknown-subject` (404), `conflict` (the code is taken), `invalid-input` (larger than the household could have; cleaned in the future) */
	addContainer(householdCode: string, given: NewContainer): Promise<void> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const household = await householdNamed(tx, householdCode);
			const policy = await currentPolicy(tx);
			const most = mostContainerL(household.persons, policy.water.largestContainerLPerPerson);
			if (given.volumeL > most)
				throw new InputError(
					"invalid-input",
					`A household of ${household.persons} has no container of ${given.volumeL} L; at most ${most} L would be right.`,
					{ problems: [{ at: "/volumeL", message: tooLarge(household.persons, most) }] },
				);
			const today = localDateOf(nowMs, household.timeZone);
			if (given.lastCleanedOn !== null && given.lastCleanedOn > today)
				throw new InputError("time-in-future", "The container is said to be cleaned in the future.", {
					problems: [{ at: "/lastCleanedOn", message: `must not be in the future; today is ${today} there` }],
				});
			const [taken] = await tx.query("SELECT id FROM container WHERE code = $1", [given.code]);
			if (taken)
				throw new InputError("conflict", `A container ${given.code} is on file already.`, {
					status: 409,
					problems: [{ at: "/code", message: "must be a code that no container has" }],
				});
			const id = this.ids.next();
			await tx.manager.insert(ContainerRow, { id, householdId: household.id, ...given });
			await planContainers(tx, [id], policy, nowMs);
			await this.tell(tx, household, "container added", { ...given });
		});
	}

	private tell(tx: Transaction, { id, areaId }: KnownHousehold, action: string, detail: Record<string, unknown>): Promise<void> {
		return record(tx, this.ids, [
			{ atMs: this.clock.nowMs(), actor: "office", action, subjectKind: "household", subjectId: id, areaId, detail },
		]);
	}
}

interface KnownHousehold {
	readonly id: string;
	readonly areaId: string;
	readonly persons: number;
	readonly timeZone: string;
}

/** @throws InputError `unknown-subject` (404) */
export async function householdNamed(from: Pick<Transaction, "query">, code: string): Promise<KnownHousehold> {
	const [row] = await from.query<KnownHousehold>(
		"SELECT h.id, h.area_id, h.persons, a.time_zone FROM household h JOIN area a ON a.id = h.area_id WHERE h.code = $1",
		[code],
	);
	if (row) return row;
	throw new InputError("unknown-subject", "There is no household of the code that was given.", { status: 404 });
}
