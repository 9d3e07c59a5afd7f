import { MAKE } from "../../stock/due-work.js";
import type { DemoDuty } from "./duty.js";

/** Bleach is made by the plan, or found elsewhere where nobody can make it. */
export const makeBleach: DemoDuty = {
	kind: MAKE,

	async asked() {
		return { kind: "deed", word: "done" };
	},

	async beforeAnswer({ brief }, { clock }) {
		return async () => ({
			atMs: clock.nowMs(),
			kind: "changed",
			who: String(brief["generator"]),
			text:
				brief["shortage"] === "yes"
					? "bleach is on its way from elsewhere"
					: `${brief["litres"]} L of bleach were made in ${brief["runs"]} runs`,
			why: `households would have run out from ${brief["outOn"]} on`,
		});
	},
};
