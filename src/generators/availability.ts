import { currentPolicy } from "../programme/policy.js";
import { saltNeededG } from "../science/brine.js";
import { chargeNeededAh, runMinutesNeeded } from "../science/faraday.js";
import { distanceKm } from "../science/visit-times.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { GeneratorRow } from "./rows.js";

/** A point on the ground. */
export interface Place {
	readonly latitudeDeg: number;
	readonly longitudeDeg: number;
}

/** What a generator can do for a plan: one batch a run, at its rated current. */
export interface GeneratorAvailability extends Place {
	readonly generatorId: string;
	readonly code: string;
	readonly areaId: string;
	readonly operatorId: string | null;
	readonly inService: boolean;
	readonly litresPerRun: number;
	/** What a run is to reach, g/L as Cl2. */
	readonly strengthGPerL: number;
	/** Whole minutes, rounded up. */
	readonly minutesPerRun: number;
	readonly saltGPerRun: number;
	/** At the battery's terminals, A h. */
	readonly chargeAhPerRun: number;
	readonly currentA: number;
}

type Reader = Pick<Transaction, "query">;
type Row = Omit<GeneratorRow, "inService" | keyof Place> & Place & { readonly inService: boolean | number };

const SELECT = `SELECT g.id, g.code, g.area_id, g.operator_id, g.rated_current_a, g.cells_in_series, g.current_efficiency, g.batch_volume_l, g.salt_g_per_l,
	g.in_service, COALESCE(g.latitude_deg, a.latitude_deg) AS latitude_deg, COALESCE(g.longitude_deg, a.longitude_deg) AS longitude_deg
	FROM generator g JOIN area a ON a.id = g.area_id`;

/**
 * The generators of areas, those out of service too.
 * @param areaIds the areas themselves; those below them aren't looked at
 * @returns by code; a generator without a place of its own stands in the middle of its area
 */
export async function generatorAvailability(from: Reader, areaIds: readonly string[]): Promise<GeneratorAvailability[]> {
	const ids = [...new Set(areaIds)];
	if (ids.length === 0) return [];
	const rows = await from.query<Row>(`${SELECT} WHERE g.area_id IN (${placeholders(ids.length)}) ORDER BY g.code`, ids);
	return availabilities(from, rows);
}

/** A generator that works, and how far away it is. */
export interface InReach extends GeneratorAvailability {
	readonly distanceKm: number;
}

/** A degree of latitude, a little short: what is looked for in the box is then measured. */
const KM_PER_DEGREE = 111;

/**
 * The generators in service that can be reached from a place, whatever area they are in.
 * @param withinKm left out: as far as the programme carries bleach
 * @returns the nearest first
 */
export async function generatorsInReach(from: Reader, place: Place, withinKm?: number): Promise<InReach[]> {
	const reachKm = withinKm ?? (await currentPolicy(from)).generators.reachKm;
	const halfDeg = reachKm / KM_PER_DEGREE;
	const rows = await from.query<Row>(
		`${SELECT} WHERE g.in_service AND COALESCE(g.latitude_deg, a.latitude_deg) BETWEEN $1 AND $2 ORDER BY g.code`,
		[place.latitudeDeg - halfDeg, place.latitudeDeg + halfDeg],
	);
	return (await availabilities(from, rows))
		.map((generator) => ({ ...generator, distanceKm: distanceKm(place, generator) }))
		.filter((generator) => generator.distanceKm <= reachKm)
		.sort((a, b) => a.distanceKm - b.distanceKm);
}

async function availabilities(from: Reader, rows: readonly Row[]): Promise<GeneratorAvailability[]> {
	const { targetStrengthGPerL } = (await currentPolicy(from)).generators;
	return rows.map((row) => availabilityOf(row, targetStrengthGPerL));
}

/** @returns what a generator of these ratings does in one run to a strength in g/L as Cl2 */
export function availabilityOf(row: Row, strengthGPerL: number): GeneratorAvailability {
	const batch = { ...row, strengthGPerL, volumeL: row.batchVolumeL };
	return {
		generatorId: row.id,
		code: row.code,
		areaId: row.areaId,
		operatorId: row.operatorId ?? null,
		inService: Boolean(row.inService),
		latitudeDeg: row.latitudeDeg,
		longitudeDeg: row.longitudeDeg,
		litresPerRun: row.batchVolumeL,
		strengthGPerL,
		minutesPerRun: Math.ceil(runMinutesNeeded({ ...batch, currentA: row.ratedCurrentA }) - 1e-9),
		saltGPerRun: saltNeededG({ saltGPerL: row.saltGPerL, volumeL: row.batchVolumeL }),
		chargeAhPerRun: chargeNeededAh(batch),
		currentA: row.ratedCurrentA,
	};
}
