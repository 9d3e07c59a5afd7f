import { readOptions, withOptions } from "../options.js";
import type { AddCommand } from "../program.js";
import { doseCard } from "./card.js";
import { doseCardDisagreements, doseCardOptions } from "./options.js";
import { doseCardText } from "./text.js";

/** A card for the wall: what to dose from bleach of a strength. */
export const addDoseCard: AddCommand = (program, { out }) => {
	const command = program
		.command("dose-card")
		.description("Make a dose card for bleach of a strength: drinking water by container, and surfaces.");
	withOptions(command, doseCardOptions).action(() => {
		const options = readOptions(doseCardOptions, command, doseCardDisagreements);
		const card = doseCard(options);
		out(options.values.json ? `${JSON.stringify(card, null, 2)}\n` : doseCardText(card));
	});
};
