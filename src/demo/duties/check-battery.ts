import { CHECK_BATTERY } from "../../generators/due-kinds.js";
import { rounded } from "../../science/rounded.js";
import { between, drawsFor } from "../draws.js";
import type { DemoDuty } from "./duty.js";

/** Batteries are read at rest in the morning; most keepers charge theirs after each run. */
export const checkBattery: DemoDuty = {
	kind: CHECK_BATTERY,

	async asked({ id, brief }, { district }) {
		const draws = drawsFor(district.start, "rest voltage", String(brief["battery"]), id);
		return { kind: "figure", figure: rounded(between(draws, 12.25, 12.66), 2).toFixed(2) };
	},

	async beforeAnswer({ brief }, { clock }) {
		return async (reply) => ({
			atMs: clock.nowMs(),
			kind: "changed",
			who: String(brief["battery"]),
			text: `read ${reply.reading ?? "-"} V; counted ${brief["percent"]} %`,
			why: String(brief["reason"]),
		});
	},
};
