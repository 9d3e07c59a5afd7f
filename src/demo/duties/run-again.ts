import { RUN_AGAIN } from "../../generators/due-kinds.js";
import type { DemoDuty } from "./duty.js";

/** A generator is run on for the minutes that its weak batch lacks. */
export const runAgain: DemoDuty = {
	kind: RUN_AGAIN,

	async asked() {
		return { kind: "deed", word: "done" };
	},

	async beforeAnswer({ brief }, { clock }) {
		return async () => ({
			atMs: clock.nowMs(),
			kind: "changed",
			who: String(brief["jar"]),
			text: `run on for ${brief["minutes"]} min`,
			why: `it was at ${brief["strengthGPerL"]} g/L, under ${brief["weakUnderGPerL"]}`,
		});
	},
};
