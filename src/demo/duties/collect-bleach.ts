import { COLLECT } from "../../stock/due-work.js";
import type { DemoDuty } from "./duty.js";

/** Bleach is fetched at the production point, as much as was asked for. */
export const collectBleach: DemoDuty = {
	kind: COLLECT,

	async asked() {
		return { kind: "deed", word: "done" };
	},

	async beforeAnswer({ brief }, { clock }) {
		return async () => ({
			atMs: clock.nowMs(),
			kind: "changed",
			who: String(brief["point"]),
			text: `${brief["litres"]} L of bleach were drawn off`,
			why: `the stock at home was ${brief["usableMl"]} mL, enough until ${brief["outOn"]}`,
		});
	},
};
