import type { KnownContainer } from "../water/containers.js";
import type { MoreBleach } from "../water/more-bleach.js";
import type { ProtocolAction } from "../water/protocol/protocol.js";
import type { ReadingTaken } from "../water/readings.js";
import type { Telling } from "./kind.js";

/** Texts for what a protocol asks for. Its own words are in one language; these are in the volunteer's. */
const TEXTS: Readonly<Record<ProtocolAction["does"], string>> = {
	drink: "water.fit",
	doseAgain: "water.again",
	lowerChlorine: "water.dilute",
	discard: "water.discard",
	otherSource: "water.otherSource",
};

/** Acts of a kind that are done in another way than the usual one. */
const OF_ACTIONS: Readonly<Record<string, string>> = { "pour-and-wait": "water.pour" };

/**
 * What a volunteer is told of a reading: whether the water may be drunk, and what to do. Urgent where it may not.
 * @param more bleach to add, where the reading asks for it
 */
export function toldOfReading(container: KnownContainer, taken: ReadingTaken, more: MoreBleach | undefined): Telling {
	const { follows, row } = taken;
	const fill = { container: container.code, mgPerL: row.freeChlorineMgPerL, minutes: follows?.waitMinutes ?? 0 };
	if (!follows) return { text: "water.noted", fill, urgent: false };
	if (follows.tooEarly) return { text: "water.tooEarly", fill, urgent: true };
	const does = actOf(taken);
	if (does === "doseAgain")
		return more
			? { text: "water.again", fill: { ...fill, ...more }, urgent: true }
			: { text: "water.noBleach", fill, urgent: true };
	return { text: OF_ACTIONS[follows.action.code] ?? TEXTS[does], fill, urgent: !follows.fitToDrink };
}

/** What the supervisor is told, where the protocol says so; `name` is filled in. */
export function toldOfUnfitWater(container: KnownContainer, { follows, row }: ReadingTaken): Telling | undefined {
	if (!follows?.tellSupervisor) return undefined;
	const fill = { container: container.code, household: container.householdCode, mgPerL: row.freeChlorineMgPerL };
	return { text: "water.unfit.supervisor", fill, urgent: true };
}

/** @returns the kind of act that follows, from the protocol's text */
export function actOf({ follows, protocol }: ReadingTaken): ProtocolAction["does"] {
	if (!follows) return "drink";
	for (const { bands, bandsAtPH8AndOver = [] } of protocol.body.checks)
		for (const band of [...bands, ...bandsAtPH8AndOver])
			for (const { action } of band.repeated ? [band, band.repeated] : [band])
				if (action.code === follows.action.code) return action.does;
	return follows.fitToDrink ? "drink" : follows.meaning === "tooHigh" ? "lowerChlorine" : "doseAgain";
}
