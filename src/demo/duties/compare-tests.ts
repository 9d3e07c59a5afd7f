import { COMPARE_TESTS } from "../../generators/due-kinds.js";
import type { DemoDuty } from "./duty.js";

/** Two who read one jar differently test it side by side. */
export const compareTests: DemoDuty = {
	kind: COMPARE_TESTS,

	async asked({ brief }, { district }) {
		const jar = district.batches.find(({ code }) => code === brief["jar"]);
		return jar && { kind: "strength", jar, sampleMl: Number(brief["sampleMl"]), madeUpToL: Number(brief["waterL"]) };
	},
};
