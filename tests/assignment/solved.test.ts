import { costsOf } from "../../src/assignment/costs.js";
import type { AssignmentProblem } from "../../src/assignment/problem.js";
import { solvedAssignment } from "../../src/assignment/solved.js";
import { distanceKm } from "../../src/science/visit-times.js";
import { inventedProblem } from "../support/invented-places.js";

const forSeconds = (seconds: number) => {
	const until = performance.now() + seconds * 1000;
	return () => until - performance.now();
};

/** The least cost there is, by trying every assignment; written from the terms anew, so that it shares no line with the solver. */
function exhaustiveKm({ candidates, households, terms }: AssignmentProblem): { km: number; leftOver: number } {
	const room = candidates.reduce((sum, { mostHouseholds }) => sum + mostHouseholds, 0);
	const even = candidates.map(({ mostHouseholds }) =>
		Math.ceil(mostHouseholds * Math.min(1, (households.length / room) * terms.evenWithin)),
	);
	// A load above the even share costs once, twice ... six times the price, a step every quarter of the share.
	const unevenKm = (j: number, count: number) =>
		Array.from({ length: Math.max(0, count - even[j]!) }, (_, above) =>
			Math.min(6, 1 + Math.floor(above / Math.max(1, Math.ceil(even[j]! / 4)))),
		).reduce((sum, times) => sum + times * terms.unevenKm, 0);
	let best = { km: Number.POSITIVE_INFINITY, leftOver: households.length + 1 };
	const load = candidates.map(() => ({ count: 0, litres: 0, hours: 0 }));
	const place = (i: number, km: number, leftOver: number): void => {
		if (leftOver > best.leftOver) return;
		const household = households[i];
		if (!household) {
			const uneven = load.reduce((sum, { count }, j) => sum + unevenKm(j, count), 0);
			if (leftOver < best.leftOver || km + uneven < best.km) best = { km: km + uneven, leftOver };
			return;
		}
		for (const [j, candidate] of candidates.entries()) {
			if (household.staysWithId !== null && household.staysWithId !== candidate.id) continue;
			const way = distanceKm(household, candidate);
			const hours = terms.visitsPerWeek * (terms.visitMinutes / 60 + (2 * way) / terms.walkingKmPerH);
			const has = load[j]!;
			if (has.count + 1 > candidate.mostHouseholds) continue;
			if (has.litres + household.litresPerDay > (candidate.mostLitresPerDay ?? Number.POSITIVE_INFINITY) + 1e-9) continue;
			if (has.hours + hours > (candidate.mostHoursPerWeek ?? Number.POSITIVE_INFINITY) + 1e-9) continue;
			load[j] = { count: has.count + 1, litres: has.litres + household.litresPerDay, hours: has.hours + hours };
			const change = household.todayId !== null && household.todayId !== candidate.id ? terms.changeKm : 0;
			const foreign = household.language !== null && household.language !== candidate.language ? terms.languageKm : 0;
			place(i + 1, km + way + change + foreign, leftOver);
			load[j] = has;
		}
		place(i + 1, km, leftOver + 1);
	};
	place(0, 0, 0);
	return best;
}

/** Loads by candidate, reckoned from the answer. */
function loadsOf({ candidates, households, terms }: AssignmentProblem, chosen: readonly number[]) {
	return candidates.map((candidate, j) => {
		const hers = households.filter((_, i) => chosen[i] === j);
		return {
			candidate,
			households: hers.length,
			litres: hers.reduce((sum, { litresPerDay }) => sum + litresPerDay, 0),
			hours: hers.reduce(
				(sum, place) =>
					sum + terms.visitsPerWeek * (terms.visitMinutes / 60 + (2 * distanceKm(place, candidate)) / terms.walkingKmPerH),
				0,
			),
		};
	});
}

function expectWithinLimits(problem: AssignmentProblem, chosen: readonly number[]): void {
	for (const { candidate, households, litres, hours } of loadsOf(problem, chosen)) {
		expect(households).toBeLessThanOrEqual(candidate.mostHouseholds);
		expect(litres).toBeLessThanOrEqual((candidate.mostLitresPerDay ?? Number.POSITIVE_INFINITY) + 1e-6);
		expect(hours).toBeLessThanOrEqual((candidate.mostHoursPerWeek ?? Number.POSITIVE_INFINITY) + 1e-6);
	}
}

describe("an assignment", () => {
	it.each(Array.from({ length: 20 }, (_, seed) => [seed + 1]))(
		"of 8 households to 3 volunteers costs as little as the best of all 65,536 that there are (case %d)",
		async (seed) => {
			const terms = seed % 2 === 0 ? { changeKm: 1, languageKm: 2, unevenKm: 0.7 } : {};
			const made = inventedProblem(8, 3, { seed, litres: seed % 3 === 0, roomShare: seed % 5 === 0 ? 0.8 : 1.3, terms });
			const households = made.households.map((place, i) => (i === 3 && seed % 4 === 0 ? { ...place, staysWithId: "v1" } : place));
			const problem = { ...made, households };
			const { chosen, costKm, boundKm, by, remark } = await solvedAssignment(problem, forSeconds(20));
			const exact = exhaustiveKm(problem);
			const leftOver = chosen.filter((j) => j < 0).length;
			expect(leftOver).toBe(exact.leftOver);
			expect(costKm - leftOver * costsOf(problem).leftOverKm).toBeCloseTo(exact.km, 6);
			expect([by, remark]).toEqual(["optimiser", null]);
			expect(boundKm).toBeLessThanOrEqual(costKm + 1e-6);
			expectWithinLimits(problem, chosen);
		},
	);

	it("of 1,500 households to 45 volunteers is at the relaxation's bound, proven, and within every volunteer's capacity", async () => {
		const problem = inventedProblem(1500, 45, { roomShare: 1.1, terms: { changeKm: 0.5, languageKm: 2, unevenKm: 0.5 } });
		const { chosen, costKm, boundKm, remark } = await solvedAssignment(problem, forSeconds(25));
		expect(chosen).not.toContain(-1);
		expect(remark).toBeNull();
		expect(costKm).toBeLessThanOrEqual(boundKm * (1 + 1e-6));
		expectWithinLimits(problem, chosen);
	});

	it("of 900 households under limits of litres and hours is within 5 % of the bound and keeps every limit", async () => {
		const problem = inventedProblem(900, 30, { litres: true, roomShare: 1.3 });
		const { chosen, costKm, boundKm } = await solvedAssignment(problem, forSeconds(20));
		expect(chosen).not.toContain(-1);
		expect(costKm).toBeLessThanOrEqual(boundKm * 1.05);
		expectWithinLimits(problem, chosen);
	});

	it("shares evenly what is as near to three volunteers, though a fourth far away keeps the even share small", async () => {
		const made = inventedProblem(23, 4, { terms: { unevenKm: 0.5, evenWithin: 1.25 } });
		const place = { latitudeDeg: -1.5, longitudeDeg: 37 };
		const candidates = made.candidates.map((c, j) => ({
			...c,
			...place,
			mostHouseholds: j === 3 ? 300 : 40,
			longitudeDeg: j === 3 ? 38 : 37,
		}));
		const households = made.households.map((h) => ({ ...h, ...place, todayId: null, language: null }));
		const { chosen, remark } = await solvedAssignment({ ...made, candidates, households }, forSeconds(10));
		expect(remark).toBeNull();
		expect([0, 1, 2, 3].map((j) => chosen.filter((at) => at === j).length).sort((a, b) => b - a)).toEqual([8, 8, 7, 0]);
	});

	it("keeps a household with the volunteer that it must stay with, however far she lives", async () => {
		const made = inventedProblem(12, 3, { roomShare: 2 });
		const problem = { ...made, households: made.households.map((h, i) => (i < 3 ? { ...h, staysWithId: `v${i}` } : h)) };
		const { chosen } = await solvedAssignment(problem, forSeconds(10));
		expect(chosen.slice(0, 3)).toEqual([0, 1, 2]);
	});

	it("leaves over as many households as there is too little room for, and no more", async () => {
		const problem = inventedProblem(40, 4, { roomShare: 0.75 });
		const room = problem.candidates.reduce((sum, { mostHouseholds }) => sum + mostHouseholds, 0);
		const { chosen, savedByRoomKm } = await solvedAssignment(problem, forSeconds(10));
		expect(chosen.filter((j) => j < 0)).toHaveLength(40 - room);
		expect(Math.min(...savedByRoomKm)).toBeGreaterThan(0);
	});

	it("changes nobody's volunteer where a change costs more than any way: continuity has its price", async () => {
		const made = inventedProblem(30, 3, { roomShare: 3 });
		const households = made.households.map((h, i) => ({ ...h, todayId: `v${i % 3}` }));
		const stays = await solvedAssignment({ ...made, households, terms: { ...made.terms, changeKm: 1000 } }, forSeconds(10));
		expect(stays.chosen).toEqual(households.map((_, i) => i % 3));
		const moves = await solvedAssignment({ ...made, households }, forSeconds(10));
		expect(moves.chosen).not.toEqual(stays.chosen);
	});

	it("with no time says that the time was over unless it is proven best, and still keeps every limit", async () => {
		const problem = inventedProblem(700, 20, { roomShare: 1.2 });
		const { by, remark, chosen, costKm, boundKm } = await solvedAssignment(problem, () => 0);
		// A bound that meets what was found proves it all the same.
		if (remark === null) expect(costKm).toBeCloseTo(boundKm, 6);
		else expect(remark).toBe("the time was over before the best was found");
		expect(["optimiser", "nearest first"]).toContain(by);
		expect(boundKm).toBeLessThanOrEqual(costKm);
		expectWithinLimits(problem, chosen);
	});

	it("without households or without volunteers is an answer too", async () => {
		expect((await solvedAssignment(inventedProblem(0, 2), forSeconds(5))).chosen).toEqual([]);
		expect((await solvedAssignment({ ...inventedProblem(3, 2), candidates: [] }, forSeconds(5))).chosen).toEqual([-1, -1, -1]);
	});
});
