import { FIND_FAULT } from "../../generators/due-kinds.js";
import type { DemoDuty } from "./duty.js";

/** The number of the likeliest cause's usual finding. */
const FINDING: Readonly<Record<string, string>> = { battery: "1", electrode: "3", salt: "5" };

/** An operator finds what the evidence points at. */
export const findFault: DemoDuty = {
	kind: FIND_FAULT,

	async asked({ brief }) {
		return { kind: "figure", figure: FINDING[String(brief["cause"])] ?? "0" };
	},

	async beforeAnswer({ brief }, { clock }) {
		return async () => ({
			atMs: clock.nowMs(),
			kind: "changed",
			who: String(brief["generator"]),
			text: `the ${brief["cause"]} was the cause, and is mended`,
			why: String(brief[`${brief["cause"]}Evidence`]),
		});
	},
};
