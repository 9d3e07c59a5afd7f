import { DAY_TO_DAY } from "../science/own-dose.js";
import { type HouseholdReading, type ResidualBelief, residualBelief } from "../science/residual-belief.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type KnownContainer, waterNow } from "./containers.js";

/** As many of a household's last readings as tell of the water that it draws now. */
const MOST_READINGS = 8;

/** Readings that count, with the one dose that they tell of: a second dose into the same water hides what the first one left. */
const READINGS = `SELECT household_id, free_chlorine_mg_per_l, hours_since_dose, checked_at_ms, dose_mg_per_l FROM (
	SELECT c.household_id, r.free_chlorine_mg_per_l, r.hours_since_dose, r.checked_at_ms, d.dose_mg_per_l,
		ROW_NUMBER() OVER (PARTITION BY c.household_id ORDER BY r.checked_at_ms DESC, r.id) AS place
	FROM residual_check r JOIN container c ON c.id = r.container_id
	JOIN dose d ON d.id = COALESCE(r.dose_id, (SELECT x.id FROM dose x WHERE x.container_id = r.container_id AND x.dosed_at_ms <= r.checked_at_ms
		ORDER BY x.dosed_at_ms DESC LIMIT 1))
	WHERE r.hours_since_dose BETWEEN 0.5 AND 720 AND r.free_chlorine_mg_per_l <= 20 AND d.dose_mg_per_l BETWEEN 0.1 AND 20
		AND (r.flags IS NULL OR r.flags NOT LIKE '%too early%')
		AND NOT EXISTS (SELECT 1 FROM dose p WHERE p.container_id = d.container_id AND p.ended_because = 'next dose' AND p.ended_at_ms = d.dosed_at_ms)
		AND c.household_id IN`;

interface Row {
	readonly householdId: string;
	readonly freeChlorineMgPerL: number;
	readonly hoursSinceDose: number;
	readonly checkedAtMs: number;
	readonly doseMgPerL: number;
}

const beforeReadings = new Map<"clear" | "cloudy", ResidualBelief>();

/**
 * What is believed of the demand and decay of each household's water: its class, and its own last readings of water of that class.
 * @returns by container
 */
export async function householdBeliefs(
	from: Pick<Transaction, "query">,
	containers: readonly KnownContainer[],
	nowMs: number,
): Promise<ReadonlyMap<string, ResidualBelief>> {
	const households = [...new Set(containers.map(({ householdId }) => householdId))];
	if (households.length === 0) return new Map();
	const rows = await from.query<Row>(
		`${READINGS} (${placeholders(households.length)})) AS told WHERE place <= ${MOST_READINGS}`,
		households,
	);
	const made = new Map<string, ResidualBelief>();
	for (const container of containers) {
		const known = [...made.entries()].find(
			([id]) => containers.find((one) => one.id === id)?.householdId === container.householdId,
		);
		made.set(container.id, known?.[1] ?? beliefOf(container, rows, nowMs));
	}
	return made;
}

/** So many tell of what lasts, where each is taken to differ from it by a day's water and a dose's strength. */
const MOST_OF_DAYS = 16;

/**
 * What is believed of what lasts in a household's water, where each reading is of one day's water and one day's dose.
 * @returns the belief, how many readings it is made of, and the dose that the last of them tells of
 */
export async function dayToDayBelief(
	from: Pick<Transaction, "query">,
	container: KnownContainer,
	nowMs: number,
): Promise<{ readonly belief: ResidualBelief; readonly readings: number; readonly lastDoseMgPerL: number | undefined }> {
	const rows = await from.query<Row>(`${READINGS} ($1)) AS told WHERE place <= ${MOST_OF_DAYS}`, [container.householdId]);
	const { turbidity, readings } = readingsOf(container, rows, nowMs);
	const last = rows.reduce<Row | undefined>((late, row) => (late && late.checkedAtMs >= row.checkedAtMs ? late : row), undefined);
	const belief = residualBelief(turbidity, readings, DAY_TO_DAY);
	return { belief, readings: readings.length, lastDoseMgPerL: last?.doseMgPerL };
}

function beliefOf(container: KnownContainer, rows: readonly Row[], nowMs: number): ResidualBelief {
	const { turbidity, readings } = readingsOf(container, rows, nowMs);
	if (readings.length > 0) return residualBelief(turbidity, readings);
	const known = beforeReadings.get(turbidity) ?? residualBelief(turbidity, []);
	beforeReadings.set(turbidity, known);
	return known;
}

/** Readings of water of the class that the household draws now. */
function readingsOf(
	container: KnownContainer,
	rows: readonly Row[],
	nowMs: number,
): { turbidity: "clear" | "cloudy"; readings: HouseholdReading[] } {
	const turbidityAt = (atMs: number) => (waterNow(container, atMs).turbidity === "clear" ? "clear" : "cloudy");
	const turbidity = turbidityAt(nowMs);
	const readings = rows
		.filter(({ householdId, checkedAtMs }) => householdId === container.householdId && turbidityAt(checkedAtMs) === turbidity)
		.map(
			(row): HouseholdReading => ({
				doseMgPerL: row.doseMgPerL,
				hours: row.hoursSinceDose,
				residualMgPerL: row.freeChlorineMgPerL,
				temperatureC: waterNow(container, row.checkedAtMs).temperatureC,
			}),
		);
	return { turbidity, readings };
}
