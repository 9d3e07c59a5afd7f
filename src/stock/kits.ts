import { InputError } from "../errors/errors.js";
import { KITS, type Kit, type KitName, kitNames } from "../science/kits.js";

/** @throws InputError `unknown-kit` with the names that there are */
export function kitNamed(name: string): Kit {
	const kit = Object.hasOwn(KITS, name) ? KITS[name as KitName] : undefined;
	if (!kit) throw new InputError("unknown-kit", `No test kit is named like that; there are: ${kitNames.join(", ")}.`);
	return kit;
}

/** @returns what can be read on a kit, in words for a volunteer: "0, 1, 2, 3, 4, 5+" */
export function scaleOf(kit: Kit): string {
	if (kit.kind === "drops") return `0-${kit.mostDrops}`;
	if (kit.kind === "number") return `0-${kit.highestMgPerL}`;
	return kit.standardsMgPerL
		.map((standard, i) => (kit.openTop && i === kit.standardsMgPerL.length - 1 ? `${standard}+` : `${standard}`))
		.join(", ");
}

/**
 * @param reading as the grammar gives it: a number with a point, or with a `+` behind it for "this or more"
 * @returns the number on the kit's scale that it names
 * @throws InputError `out-of-scale` with what was read and the scale
 */
export function readingOnScale(kit: Kit, reading: string): number {
	const orMore = reading.endsWith("+");
	const value = Number(orMore ? reading.slice(0, -1) : reading);
	if (reading.trim() !== "" && isOnScale(kit, value) && (!orMore || value === openTopOf(kit))) return value;
	throw new InputError(
		"out-of-scale",
		`${reading} isn't on this kit's scale: ${scaleOf(kit)}. Say the colour that comes nearest.`,
		{
			problems: [{ at: "/reading", message: `must be one of ${scaleOf(kit)}` }],
		},
	);
}

function isOnScale(kit: Kit, value: number): boolean {
	if (kit.kind === "bands") return kit.standardsMgPerL.includes(value);
	if (kit.kind === "drops") return Number.isInteger(value) && value >= 0 && value <= kit.mostDrops;
	return value >= 0 && value <= kit.highestMgPerL;
}

/** The reading that also stands for everything above it, where the kit has one. */
function openTopOf(kit: Kit): number | undefined {
	if (kit.kind === "bands") return kit.openTop ? kit.standardsMgPerL.at(-1) : undefined;
	return kit.kind === "drops" ? kit.mostDrops : kit.highestMgPerL;
}
