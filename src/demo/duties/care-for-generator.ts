import { CARE } from "../../generators/due-kinds.js";
import type { DemoDuty } from "./duty.js";

/** The generator whose electrode scales up: its water is hard. */
const SCALES = "G-LON";

/** Generators are rinsed, looked at and descaled; at one of them the look sees scale. */
export const careForGenerator: DemoDuty = {
	kind: CARE,

	async asked({ brief }) {
		const scaled = brief["generator"] === SCALES && brief["inspect"] === "yes" && brief["descale"] !== "yes";
		return scaled ? { kind: "figure", figure: "2" } : { kind: "deed", word: "done" };
	},

	async beforeAnswer({ brief }, { clock }) {
		return async (reply) => ({
			atMs: clock.nowMs(),
			kind: "changed",
			who: String(brief["generator"]),
			text: reply.reading === "2" ? "scale on its electrode: it is to be descaled" : "cared for",
			why: String(brief["reasons"]),
		});
	},
};
