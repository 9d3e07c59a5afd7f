import { solvedAssignment } from "../../src/assignment/solved.js";
import { inventedProblem } from "../support/invented-places.js";
import type { Figure } from "./figure.js";

const HOUSEHOLDS = 5000;
const VOLUNTEERS = 150;

/** An assignment beside the bound that none can be under, and the time that it takes. */
export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const [what, options] of [
		["walking alone", {}],
		["walking alone, room for 1.05 times the households", { roomShare: 1.05 }],
		["with changes, languages, even loads", { terms: { changeKm: 0.5, languageKm: 2, unevenKm: 0.5 } }],
		["with limits of litres and hours too", { litres: true, roomShare: 1.3 }],
	] as const) {
		const problem = inventedProblem(HOUSEHOLDS, VOLUNTEERS, options);
		const began = performance.now();
		const cpu = process.cpuUsage();
		const until = began + 60_000;
		const { costKm, boundKm, remark, chosen } = await solvedAssignment(problem, () => until - performance.now());
		const took = performance.now() - began;
		const { user, system } = process.cpuUsage(cpu);
		const name = `${HOUSEHOLDS} households, ${VOLUNTEERS} volunteers, ${what}`;
		if (chosen.includes(-1)) throw new Error(`${chosen.filter((j) => j < 0).length} households were left over`);
		figures.push(
			{ name: `${name}: time${remark ? ` (${remark})` : ""}`, value: took / 1000, floor: 10, unit: "s", bar: "under 10 s" },
			{ name: `${name}: processor time`, value: (user + system) / 1e6, floor: 10, unit: "s", bar: "under 10 s" },
			{ name: `${name}: cost beside the relaxation's bound`, value: costKm, floor: boundKm, unit: "km", bar: "at most 1.05x" },
		);
	}
	return figures;
}
