import { readFileSync } from "node:fs";
import { join } from "node:path";
import { type Distances, roundLength, shortRound } from "../../src/science/round.js";
import { SeededRandomness } from "../../src/time/randomness.js";

interface PublishedRound {
	readonly name: string;
	readonly places: readonly (readonly [number, number])[];
	readonly optimum: { readonly value: number; readonly unit: string };
	readonly withinPercent: number;
	readonly source: string;
}

const published = JSON.parse(readFileSync(join(__dirname, "../published/rounds.json"), "utf8")) as { rounds: PublishedRound[] };

/** Distance of type GEO in whole km. Source: Reinelt, TSPLIB 95, section 2.4 (from memory), with its own value of pi. */
function geoDistances(places: PublishedRound["places"]): Distances {
	const radians = (degreesMinutes: number) => {
		const degrees = Math.trunc(degreesMinutes);
		// biome-ignore lint/suspicious/noApproximativeNumericConstant: the published distances are reckoned with this one
		return (3.141592 * (degrees + (5 * (degreesMinutes - degrees)) / 3)) / 180;
	};
	return places.map(([ax, ay], a) =>
		places.map(([bx, by], b) => {
			if (a === b) return 0;
			const q1 = Math.cos(radians(ay) - radians(by));
			const q2 = Math.cos(radians(ax) - radians(bx));
			const q3 = Math.cos(radians(ax) + radians(bx));
			return Math.trunc(6378.388 * Math.acos(0.5 * ((1 + q1) * q2 - (1 - q1) * q3)) + 1);
		}),
	);
}

/** The shortest round there is. Source: Held and Karp (1962), J. SIAM 10(1), 196-210 (from memory). */
function exactLength(distances: Distances): number {
	const count = distances.length;
	const others = count - 1;
	const d = (a: number, b: number) => distances[a]![b]!;
	const best = Array.from({ length: 1 << others }, () => new Float64Array(others).fill(Number.POSITIVE_INFINITY));
	for (let k = 0; k < others; k++) best[1 << k]![k] = d(0, k + 1);
	for (let set = 1; set < 1 << others; set++)
		for (let last = 0; last < others; last++)
			for (let next = 0; next < others; next++) {
				if (!(set & (1 << last)) || set & (1 << next)) continue;
				const to = best[set | (1 << next)]!;
				to[next] = Math.min(to[next]!, best[set]![last]! + d(last + 1, next + 1));
			}
	return Math.min(...Array.from({ length: others }, (_, k) => best[(1 << others) - 1]![k]! + d(k + 1, 0)));
}

function randomPlaces(randomness: SeededRandomness, count: number): Distances {
	const places = Array.from({ length: count }, () => [randomness.below(10_000), randomness.below(10_000)] as const);
	return places.map(([ax, ay]) => places.map(([bx, by]) => Math.hypot(ax - bx, ay - by)));
}

describe("a round", () => {
	it.each(published.rounds.map((round) => [round.name, round] as const))(
		"through the places of %s is within the stated percent of the published optimum",
		(_, { places, optimum, withinPercent }) => {
			const distances = geoDistances(places);
			const { order, length } = shortRound(distances);
			expect([...order].sort((a, b) => a - b)).toEqual([...places.keys()]);
			expect(length).toBe(roundLength(distances, order));
			expect(length).toBeGreaterThanOrEqual(optimum.value);
			expect(length).toBeLessThanOrEqual(optimum.value * (1 + withinPercent / 100));
		},
	);

	it("of the published places, as Held and Karp reckon it, is as long as published: the distances are the published ones", () => {
		const burma = published.rounds.find(({ name }) => name === "burma14")!;
		expect(exactLength(geoDistances(burma.places))).toBe(burma.optimum.value);
	});

	it("through up to 9 stops is the shortest in 99 of 100 random cases, and never more than 2 % longer", () => {
		const randomness = new SeededRandomness(7);
		let shortest = 0;
		for (let n = 0; n < 200; n++) {
			const distances = randomPlaces(randomness, 2 + (n % 9));
			const exact = n % 9 === 0 ? roundLength(distances, [0, 1]) : exactLength(distances);
			const { length } = shortRound(distances);
			expect(length).toBeLessThanOrEqual(exact * 1.02);
			if (length <= exact * (1 + 1e-9)) shortest++;
		}
		expect(shortest).toBeGreaterThanOrEqual(198);
	});

	it("through 60 stops takes under a second and is shorter than nearest neighbour alone by the mending", () => {
		const distances = randomPlaces(new SeededRandomness(3), 61);
		const began = process.cpuUsage();
		const { order, length } = shortRound(distances);
		const { user } = process.cpuUsage(began);
		expect(new Set(order).size).toBe(61);
		expect(order[0]).toBe(0);
		expect(user / 1e6).toBeLessThan(1);
		// Source: Beardwood, Halton and Hammersley (1959): about 0.7124 sqrt(n A); from memory. Few places near the border have longer rounds.
		expect(length).toBeLessThan(0.7124 * Math.sqrt(61 * 1e8) * 1.25);
	});

	it.each<[string, Distances]>([
		["there is no place", []],
		["a distance is missing", [[0, 1], [1]]],
		[
			"a distance is negative",
			[
				[0, -1],
				[-1, 0],
			],
		],
		[
			"a distance isn't a number",
			[
				[0, Number.NaN],
				[Number.NaN, 0],
			],
		],
		[
			"a distance differs by direction",
			[
				[0, 1],
				[2, 0],
			],
		],
	])("is refused where %s", (_, distances) => {
		expect(() => shortRound(distances)).toThrow(RangeError);
	});
});
