import type { InstructionText } from "./instructions.js";

// The usual cautions of the trade, each in one place. Sources: WHO and CDC pages on household bleach and on cleaning solutions;
// what the local health authority prescribes comes first.

const AUTHORITY_FIRST = "caution.authority";

/** Of all work with bleach; more of a kind of work's own stand before the last. */
export function bleachCautions(...own: InstructionText[]): InstructionText[] {
	return ["caution.gloves", "caution.eyes", "caution.neverMix", "caution.keepAway", ...own, AUTHORITY_FIRST];
}

/** Of making bleach: the cell gives off hydrogen. */
export function makingCautions(...own: InstructionText[]): InstructionText[] {
	return bleachCautions("caution.hydrogen", "caution.noFlame", "caution.batteryAcid", ...own);
}

/** Of work with drinking water that may not be fit. */
export function waterCautions(...own: InstructionText[]): InstructionText[] {
	return bleachCautions("caution.unfitWater", ...own);
}
