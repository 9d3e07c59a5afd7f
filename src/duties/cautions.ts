// The usual cautions of the trade, each in one place. Sources: WHO and CDC pages on household bleach and on cleaning solutions;
// what the local health authority prescribes comes first.

const IN_THE_EYES =
	"In the eyes or on the skin: rinse with much water for at least 15 minutes; if it hurts on, see a health worker.";

const NEVER_MIX = "Never mix bleach with acid, vinegar, ammonia, urine, soap or any other cleaner: it gives off poisonous gas.";

const KEEP_AWAY =
	"Keep it labelled, in the shade, out of reach of children and animals, never in a bottle or cup that people drink from.";

const AUTHORITY_FIRST = "What the local health authority prescribes comes first.";

/** Of all work with bleach; more of a kind of work's own stand before the last. */
export function bleachCautions(...own: string[]): string[] {
	return ["Wear gloves and glasses.", IN_THE_EYES, NEVER_MIX, KEEP_AWAY, ...own, AUTHORITY_FIRST];
}

/** Of making bleach: the cell gives off hydrogen. */
export function makingCautions(...own: string[]): string[] {
	return bleachCautions(
		"Work outdoors or with doors and windows open: the generator gives off hydrogen, which burns and explodes.",
		"No flame, no cigarette, no spark near it; connect and disconnect the battery with the switch off.",
		"Battery acid burns: don't tip it, and don't let a tool touch both poles.",
		...own,
	);
}

/** Of work with drinking water that may not be fit. */
export function waterCautions(...own: string[]): string[] {
	return bleachCautions("Nobody drinks water whose check says that it isn't fit.", ...own);
}
