/** A way from one place through others and back to it. */
export interface Round {
	/** Indices of the places in the order in which they are visited; the first is the start. */
	readonly order: readonly number[];
	/** Length with the way back, in the unit of the distances. */
	readonly length: number;
}

/** Square: `distances[from][to]`, each 0 or more and the same both ways. */
export type Distances = readonly (readonly number[])[];

/** From so many beginnings at most: more cost time and gain little. Own choice. */
const MOST_BEGINNINGS = 16;

/**
 * A short round through every place: nearest neighbour from several beginnings, each mended by 2-opt and Or-opt until neither helps.
 *
 * @param distances between places, the start first; 1 to 500 places
 * @returns the shortest round found. It needn't be the shortest that there is; up to a dozen places it nearly always is.
 * @throws RangeError where the distances aren't square, negative, or differ by direction
 * Source: Croes (1958), Operations Research 6(6), 791-812 (2-opt); Or (1976), thesis, Northwestern University (Or-opt); both from memory.
 */
export function shortRound(distances: Distances): Round {
	assertDistances(distances);
	const count = distances.length;
	if (count <= 3) return roundOf(distances, [...distances.keys()]);
	let best: Round | undefined;
	for (let beginning = 0; beginning < Math.min(count, MOST_BEGINNINGS); beginning++) {
		const order = nearestNeighbours(distances, beginning);
		mend(distances, order);
		const found = roundOf(distances, order);
		if (!best || found.length < best.length - 1e-9) best = found;
	}
	return fromStart(best as Round);
}

/** @returns the length of a round in a given order, with the way back */
export function roundLength(distances: Distances, order: readonly number[]): number {
	return order.reduce((sum, at, i) => sum + between(distances, at, order[(i + 1) % order.length] as number), 0);
}

const roundOf = (distances: Distances, order: readonly number[]): Round => ({ order, length: roundLength(distances, order) });
const between = (distances: Distances, a: number, b: number): number => (distances[a] as readonly number[])[b] as number;

function fromStart({ order, length }: Round): Round {
	const at = order.indexOf(0);
	const turned = [...order.slice(at), ...order.slice(0, at)];
	// Both directions are as long: the nearer neighbour of the start comes first only by its index, so that the answer is one.
	return { order: (turned[1] as number) <= (turned.at(-1) as number) ? turned : [0, ...turned.slice(1).reverse()], length };
}

function nearestNeighbours(distances: Distances, beginning: number): number[] {
	const left = new Set(distances.keys());
	const order = [beginning];
	left.delete(beginning);
	while (left.size > 0) {
		const from = order.at(-1) as number;
		let nearest = -1;
		for (const to of left) if (nearest < 0 || between(distances, from, to) < between(distances, from, nearest)) nearest = to;
		order.push(nearest);
		left.delete(nearest);
	}
	return order;
}

function mend(distances: Distances, order: number[]): void {
	while (twoOpt(distances, order) || orOpt(distances, order));
}

/** Turns a stretch of the round where that shortens it. @returns whether it did */
function twoOpt(distances: Distances, order: number[]): boolean {
	const count = order.length;
	const at = (i: number) => order[i % count] as number;
	for (let i = 0; i < count - 1; i++)
		for (let j = i + 2; j < (i === 0 ? count - 1 : count); j++) {
			const before = between(distances, at(i), at(i + 1)) + between(distances, at(j), at(j + 1));
			const after = between(distances, at(i), at(j)) + between(distances, at(i + 1), at(j + 1));
			if (after < before - 1e-12) {
				const turned = order.slice(i + 1, j + 1).reverse();
				order.splice(i + 1, turned.length, ...turned);
				return true;
			}
		}
	return false;
}

/** Moves one to three neighbours to where they are less of a detour, either way round. @returns whether it did */
function orOpt(distances: Distances, order: number[]): boolean {
	const count = order.length;
	for (let length = 1; length <= Math.min(3, count - 3); length++)
		for (let from = 0; from < count; from++) {
			const turned = [...order.slice(from), ...order.slice(0, from)];
			const piece = turned.slice(0, length);
			const rest = turned.slice(length);
			const [first, last] = [piece[0] as number, piece.at(-1) as number];
			const [after, before] = [rest[0] as number, rest.at(-1) as number];
			const saved = between(distances, before, first) + between(distances, last, after) - between(distances, before, after);
			for (let place = 0; place < rest.length - 1; place++) {
				const [a, b] = [rest[place] as number, rest[place + 1] as number];
				const gap = between(distances, a, b);
				const along = between(distances, a, first) + between(distances, last, b) - gap;
				const against = between(distances, a, last) + between(distances, first, b) - gap;
				if (Math.min(along, against) >= saved - 1e-12) continue;
				rest.splice(place + 1, 0, ...(along <= against ? piece : piece.reverse()));
				order.splice(0, count, ...rest);
				return true;
			}
		}
	return false;
}

function assertDistances(distances: Distances): void {
	const count = distances.length;
	if (count < 1 || count > 500) throw new RangeError(`a round has 1 to 500 places, not ${count}`);
	for (const [from, row] of distances.entries()) {
		if (row.length !== count) throw new RangeError(`the distances from place ${from} are ${row.length} instead of ${count}`);
		for (const [to, distance] of row.entries()) {
			if (!(distance >= 0)) throw new RangeError(`the distance from place ${from} to place ${to} is ${distance}, not 0 or more`);
			if (Math.abs(distance - between(distances, to, from)) > 1e-9 * Math.max(1, distance))
				throw new RangeError(`the distance between places ${from} and ${to} differs by direction`);
		}
	}
}
