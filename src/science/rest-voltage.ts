import { valueWithin } from "./valid-range.js";

type VoltagePoint = readonly [volts: number, share: number];

/** Rest voltage against charge of a 12 V lead-acid battery near 25 °C. Source: battery trade association table (from memory). */
const mainTable: readonly VoltagePoint[] = [
	[11.89, 0],
	[12.06, 0.25],
	[12.24, 0.5],
	[12.45, 0.75],
	[12.65, 1],
];
/** Two other tables in use (secondary): their distance from the first is part of the uncertainty. */
const otherTables: readonly (readonly VoltagePoint[])[] = [
	[
		[11.6, 0],
		[12.0, 0.25],
		[12.2, 0.5],
		[12.4, 0.75],
		[12.6, 1],
	],
	[
		[12.15, 0.25],
		[12.3, 0.5],
		[12.45, 0.75],
		[12.66, 1],
	],
];
/** What a 1 % voltmeter leaves open, share of full charge (secondary). */
const METER_SHARE = 0.15;
/** Hours without load or charger until the voltage tells the charge. */
export const REST_HOURS_NEEDED = 6;
/** Above this a charger, panel or engine is still at work, V. */
const STILL_CHARGING_ABOVE_V = 12.9;

function shareFrom(table: readonly VoltagePoint[], volts: number): number {
	const upper = table.findIndex(([v]) => v >= volts);
	if (upper === -1) return 1;
	const [v1, s1] = table[upper]!;
	// Below its first point a table says no more than "under this share".
	if (upper === 0) return volts === v1 ? s1 : 0;
	const [v0, s0] = table[upper - 1]!;
	return s0 + ((volts - v0) / (v1 - v0)) * (s1 - s0);
}

/** What a rest voltage tells. */
export type RestCharge =
	| { readonly kind: "rested"; readonly lowShare: number; readonly share: number; readonly highShare: number }
	| { readonly kind: "notRested"; readonly moreRestHours: number }
	| { readonly kind: "stillCharging" };

const clamp = (share: number): number => Math.min(1, Math.max(0, share));

/**
 * Charge of a 12 V lead-acid battery from its voltage at rest.
 *
 * @param reading `restVoltageV` at the posts, 0 to 16 V; `restHours` since the last load or charge, 0 or more; `temperatureC` of the
 *   battery, 10 to 40 °C (default 25)
 * @returns share of full charge with its bounds: the spread of three tables, widened by 0.15 for a 1 % meter, clamped to 0 to 1;
 *   or that it must rest longer; or that something is charging it (above 12.9 V)
 * @throws RangeError outside these ranges; 24 V sets are read one battery at a time
 * Source: table from memory and two secondary tables; 6 h of rest.
 */
export function restCharge(reading: {
	readonly restVoltageV: number;
	readonly restHours: number;
	readonly temperatureC?: number;
}): RestCharge {
	const volts = valueWithin("rest voltage in V", reading.restVoltageV, 0, 16, "read one 12 V battery at a time");
	const hours = valueWithin("rest in h", reading.restHours, 0, Number.POSITIVE_INFINITY);
	valueWithin("battery temperature in °C", reading.temperatureC ?? 25, 10, 40, "the voltage table holds near 25 °C");
	if (hours < REST_HOURS_NEEDED) return { kind: "notRested", moreRestHours: REST_HOURS_NEEDED - hours };
	if (volts > STILL_CHARGING_ABOVE_V) return { kind: "stillCharging" };
	const share = shareFrom(mainTable, volts);
	const all = [share, ...otherTables.map((table) => shareFrom(table, volts))];
	return {
		kind: "rested",
		lowShare: clamp(Math.min(...all) - METER_SHARE),
		share,
		highShare: clamp(Math.max(...all) + METER_SHARE),
	};
}
