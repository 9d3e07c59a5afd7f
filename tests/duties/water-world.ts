import { ResidualReadings } from "../../src/duties/residual-readings.js";
import { WaterFacts } from "../../src/duties/water-facts.js";
import type { MonthlyClimate } from "../../src/science/exposure.js";
import { HouseholdProtocols } from "../../src/water/protocol/household-protocol.js";
import { aBatch, settle, type World } from "../support/world.js";

/** A household of five with one container C1 of 20 L, looked after by the volunteer, and a jar B1 of 5 g/L that she keeps. */
export async function aHousehold(
	world: World,
	over: { turbidity?: string; volunteerId?: string | null; climate?: MonthlyClimate[] } = {},
): Promise<void> {
	await settle(world, over.climate ? { climate: over.climate } : {});
	await putHousehold(world, over);
}

/** The same household and jar in a world that has people already. */
export async function putHousehold(world: World, over: { turbidity?: string; volunteerId?: string | null } = {}): Promise<void> {
	await aBatch(world);
	const { turbidity = "clear", volunteerId = "vol" } = over;
	await world.store.work.run(async (tx) => {
		await tx.query(
			"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ('h1', 'H1', 'area', $1, 5, 'well', $2)",
			[volunteerId, turbidity],
		);
		await tx.query(
			"INSERT INTO container (id, code, household_id, volume_l, kind) VALUES ('c1', 'C1', 'h1', 20, 'narrow mouth')",
		);
	});
}

/** The same facts as a phone or an office hands them in. */
export const factsOf = (world: World) => {
	const facts = world.the(WaterFacts);
	const readings = world.the(ResidualReadings);
	let texts = 0;
	return {
		dose: (bleachMl = 7.5, over: Partial<Parameters<WaterFacts["recordDose"]>[0]> = {}) =>
			facts.recordDose({
				...{ containerCode: "C1", batchCode: "B1", dosedAtMs: world.clock.nowMs(), waterL: 20, bleachMl, byPersonId: "vol" },
				...over,
			}),
		read: (mgPerL: number | string, over: Partial<Parameters<ResidualReadings["record"]>[0]> = {}) =>
			readings.record({
				...{ containerCode: "C1", checkedAtMs: world.clock.nowMs(), reading: String(mgPerL), checkerId: "vol" },
				...over,
			}),
		text: (body: string) =>
			world.replies.receive({ channel: "sms", channelMessageId: `w${++texts}`, fromAddress: "+447700900002", body }),
		clean: (over: { atMs?: number; by?: string | null } = {}) =>
			facts.recordCleaning("C1", over.atMs ?? world.clock.nowMs(), over.by ?? null),
		emptied: (atMs = world.clock.nowMs()) => facts.recordEmptied("C1", atMs),
		follow: (code: string, version = 1) =>
			world.the(HouseholdProtocols).move(["h1"], { code, version, actor: "sup", why: "a test asks for it" }),
		open: async () => (await world.tasks()).filter(({ state }) => state === "open"),
		dueAtMs: async (kind: string) => {
			const [row] = await world.store.query<{ dueAtMs: number | null }>(
				"SELECT due_at_ms FROM due WHERE kind = $1 AND subject_id = 'c1'",
				[kind],
			);
			return row?.dueAtMs ?? null;
		},
		told: async () => (await world.messages()).map(({ text: name, recipientId }) => [name, recipientId]),
		last: async () => {
			const message = (await world.messages()).at(-1);
			return { ...message, fill: JSON.parse(message?.fill ?? "{}") };
		},
		checks: () =>
			world.store.query<{ band: string | null; fitToDrink: unknown; flags: string }>(
				"SELECT free_chlorine_mg_per_l, band, fit_to_drink, flags, moment FROM residual_check ORDER BY id",
			),
	};
};

export type Facts = ReturnType<typeof factsOf>;
