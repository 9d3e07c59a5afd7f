import { InputError } from "../errors/errors.js";
import type { Policy } from "../programme/policy.js";
import type { Transaction } from "../store/unit-of-work.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { batteryFacts } from "./battery-facts.js";
import { type BatteryState, batteryState } from "./battery-state.js";
import { refreshBatteries } from "./refresh.js";
import { BatteryCareRow, BatteryReadingRow, BatteryRow } from "./rows.js";
import { MOST_REST_VOLTAGE_V } from "./run-checks.js";
import { told } from "./told.js";

interface Moment {
	readonly nowMs: number;
	readonly policy: Policy;
}

interface Said {
	/** Null: somebody at the office. */
	readonly byPersonId: string | null;
	readonly taskId: string | null;
}

/** Puts a battery on file, full. @throws InputError `conflict` for a code that is taken, `time-in-future` */
export async function registerBattery(
	tx: Transaction,
	ids: Ids,
	battery: Omit<BatteryRow, "id" | "inUse">,
	moment: Moment,
): Promise<BatteryRow> {
	const [taken] = await tx.query("SELECT id FROM battery WHERE code = $1", [battery.code]);
	if (taken) throw new InputError("conflict", `A battery ${battery.code} is on file already.`, { status: 409 });
	refuseFuture(battery.sinceMs, moment.nowMs, "/since");
	const row: BatteryRow = { ...battery, id: ids.next(), inUse: true };
	await tx.manager.insert(BatteryRow, row);
	await refreshBatteries(tx, [row.id], moment);
	await told(
		tx,
		ids,
		["battery", row],
		"battery registered",
		{ ratedAh: row.ratedAh, ratedHours: row.ratedHours },
		moment.nowMs,
		null,
	);
	return row;
}

/**
 * Keeps a voltage at rest, and reckons the charge anew.
 * @returns what is believed of the battery after it
 * @throws InputError `unknown-subject`, `time-in-future`, `invalid-input` outside 0 to 20 V, `conflict` for one that isn't in use
 */
export async function recordReading(
	tx: Transaction,
	ids: Ids,
	reading: Omit<BatteryReadingRow, "id" | "recordedAtMs">,
	moment: Moment,
): Promise<BatteryState> {
	const battery = await inUse(tx, reading.batteryId);
	refuseFuture(reading.readAtMs, moment.nowMs, "/readAt");
	if (!(reading.restVoltageV >= 0 && reading.restVoltageV <= MOST_REST_VOLTAGE_V))
		throw new InputError(
			"invalid-input",
			`${reading.restVoltageV} V is no voltage of a 12 V battery; 0 to ${MOST_REST_VOLTAGE_V} V can be read.`,
			{
				problems: [{ at: "/restVoltageV", message: `must be 0 to ${MOST_REST_VOLTAGE_V} (V), one 12 V battery at a time` }],
			},
		);
	await tx.manager.insert(BatteryReadingRow, { ...reading, id: ids.next(), recordedAtMs: moment.nowMs });
	await refreshBatteries(tx, [battery.id], moment);
	const { restVoltageV, restHours } = reading;
	await told(tx, ids, ["battery", battery], "battery read", { restVoltageV, restHours }, moment.nowMs, reading.readerId);
	return stateOf(tx, battery.id);
}

/** Keeps that a battery was charged until it was full. @throws InputError as `recordReading` */
export async function recordCharged(
	tx: Transaction,
	ids: Ids,
	batteryId: string,
	doneAtMs: number,
	said: Said,
	moment: Moment,
): Promise<BatteryState> {
	const battery = await inUse(tx, batteryId);
	refuseFuture(doneAtMs, moment.nowMs, "/doneAt");
	await done(tx, ids, battery, "charged", doneAtMs, said, moment);
	await refreshBatteries(tx, [batteryId], moment);
	return stateOf(tx, batteryId);
}

/**
 * Puts another battery in the place of one that is worn out. Its label is taken to say the same until the office says otherwise.
 * @returns the new one
 * @throws InputError as `recordReading`
 */
export async function replaceBattery(
	tx: Transaction,
	ids: Ids,
	batteryId: string,
	doneAtMs: number,
	said: Said,
	moment: Moment,
): Promise<BatteryRow> {
	const old = await inUse(tx, batteryId);
	refuseFuture(doneAtMs, moment.nowMs, "/doneAt");
	await tx.affected("UPDATE battery SET in_use = $2 WHERE id = $1", [batteryId, 0]);
	await done(tx, ids, old, "taken out", doneAtMs, said, moment);
	await refreshBatteries(tx, [batteryId], moment);
	const { areaId, generatorId, ratedAh, ratedHours, peukertExponent } = old;
	const code = await nextCode(tx, old.code);
	return registerBattery(tx, ids, { code, areaId, generatorId, ratedAh, ratedHours, peukertExponent, sinceMs: doneAtMs }, moment);
}

async function done(
	tx: Transaction,
	ids: Ids,
	battery: BatteryRow,
	work: BatteryCareRow["work"],
	doneAtMs: number,
	said: Said,
	moment: Moment,
): Promise<void> {
	await tx.manager.insert(BatteryCareRow, {
		...said,
		id: ids.next(),
		batteryId: battery.id,
		work,
		doneAtMs,
		recordedAtMs: moment.nowMs,
	});
	await told(tx, ids, ["battery", battery], `battery ${work}`, {}, moment.nowMs, said.byPersonId);
}

async function inUse(tx: Transaction, id: string): Promise<BatteryRow> {
	const battery = await tx.manager.findOneBy(BatteryRow, { id });
	if (!battery) throw new InputError("unknown-subject", "There is no such battery.", { status: 404 });
	if (!battery.inUse) throw new InputError("conflict", `Battery ${battery.code} isn't in use any more.`, { status: 409 });
	return battery;
}

async function stateOf(tx: Transaction, id: string): Promise<BatteryState> {
	return batteryState((await batteryFacts(tx, [id])).get(id)!);
}

/** `BAT-1` is followed by `BAT-1.2`, that by `BAT-1.3`. */
async function nextCode(tx: Transaction, code: string): Promise<string> {
	const [, stem = code, number] = /^(.*)\.(\d+)$/.exec(code) ?? [];
	for (let n = Number(number ?? 1) + 1; ; n++) {
		const [taken] = await tx.query("SELECT id FROM battery WHERE code = $1", [`${stem}.${n}`]);
		if (!taken) return `${stem}.${n}`;
	}
}
