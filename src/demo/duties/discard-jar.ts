import { DISCARD } from "../../stock/due-work.js";
import type { DemoDuty } from "./duty.js";

/** A weak jar is relabelled for surfaces, or poured away in the end. */
export const discardJar: DemoDuty = {
	kind: DISCARD,
	async asked() {
		return { kind: "deed", word: "done" };
	},
};
