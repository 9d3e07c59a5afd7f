import { z } from "zod";
import type { BatteryFacts } from "../../generators/battery-facts.js";
import { type BatteryState, batteryState, plannedCheck } from "../../generators/battery-state.js";
import type { Policy } from "../../programme/policy.js";
import { utc, utcOf, utcOrNull } from "../edge/fields.js";

const charge = z
	.strictObject({
		lowShare: z.number(),
		share: z.number().meta({ description: "Share of full, 0 to 1" }),
		highShare: z.number(),
		knownFrom: z.enum(["reading", "charged", "new"]),
		knownAt: utc,
		drawnShare: z.number().meta({ description: "Drawn by runs since then, share of full" }),
		runsSinceReading: z.int(),
		capacityShare: z
			.number()
			.nullable()
			.meta({ description: "Capacity against the label's, from runs between two readings; null: nothing tells it yet" }),
	})
	.meta({ id: "BatteryCharge" });

export const batterySchema = z
	.strictObject({
		code: z.string(),
		generatorCode: z.string().nullable(),
		ratedAh: z.number(),
		ratedHours: z.number(),
		peukertExponent: z.number(),
		inUse: z.boolean(),
		since: utc,
		lastReading: z.strictObject({ at: utc, restVoltageV: z.number(), restHours: z.number() }).nullable(),
		charge,
		nextCheckAt: utc.nullable(),
		nextCheckReason: z.enum(["days", "runs", "charge"]).nullable(),
	})
	.meta({ id: "Battery" });

export function batteryView(facts: BatteryFacts, { generators: rules }: Policy, nowMs: number): z.output<typeof batterySchema> {
	const { battery } = facts;
	const state = batteryState(facts);
	const planned = plannedCheck(facts, rules.battery, nowMs);
	const read = state.lastReading;
	return {
		code: battery.code,
		generatorCode: battery.generatorCode,
		ratedAh: battery.ratedAh,
		ratedHours: battery.ratedHours,
		peukertExponent: battery.peukertExponent,
		inUse: battery.inUse,
		since: utcOf(battery.sinceMs),
		lastReading: read && { at: utcOf(read.readAtMs), restVoltageV: read.restVoltageV, restHours: read.restHours },
		charge: chargeView(state),
		nextCheckAt: utcOrNull(planned?.dueAtMs ?? null),
		nextCheckReason: planned?.reason ?? null,
	};
}

function chargeView({ knownAtMs, lastReading: _, lastToldAtMs: __, ...state }: BatteryState): z.output<typeof charge> {
	return { ...state, knownAt: utcOf(knownAtMs) };
}
