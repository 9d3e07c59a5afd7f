import { CLEAN_CONTAINER } from "../../water/kinds.js";
import type { DemoDuty } from "./duty.js";

/** The household cleans its container, and the volunteer says so. */
export const cleanContainer: DemoDuty = {
	kind: CLEAN_CONTAINER,
	async asked() {
		return { kind: "deed", word: "DONE" };
	},
};
