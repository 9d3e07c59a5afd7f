import { RENEW_REAGENT } from "../../generators/due-kinds.js";
import type { DemoDuty } from "./duty.js";

/** Whoever has reagent that expires fetches new, and tells its expiry as year and month. */
export const renewReagent: DemoDuty = {
	kind: RENEW_REAGENT,

	async asked(_, { clock }) {
		const nextYear = new Date(clock.nowMs()).getUTCFullYear() + 2;
		return { kind: "figure", figure: `${nextYear % 100}06` };
	},

	async beforeAnswer({ brief }, { clock }) {
		return async (reply) => ({
			atMs: clock.nowMs(),
			kind: "changed",
			who: String(brief["reagent"]),
			text: `renewed; the new lot is good until ${reply.reading ?? "-"} (year, month)`,
			why: `lot ${brief["lot"]} isn't used from ${brief["useUntilOn"]} on`,
		});
	},
};
