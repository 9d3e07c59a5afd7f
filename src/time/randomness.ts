import { randomBytes } from "node:crypto";
import { uniformFloat64 } from "pure-rand/distribution/uniformFloat64";
import { xoroshiro128plus } from "pure-rand/generator/xoroshiro128plus";
import type { RandomGenerator } from "pure-rand/types/RandomGenerator";

/** The only source of chance, so that a run can be repeated from a number. */
export abstract class Randomness {
	/** @returns a number in [0, 1) with 53 random bits */
	abstract fraction(): number;

	/** @returns a whole number in [0, below) */
	below(limit: number): number {
		return Math.floor(this.fraction() * limit);
	}

	/** @returns one element of a list that isn't empty */
	pick<T>(from: readonly T[]): T {
		return from[this.below(from.length)] as T;
	}

	/** @returns a draw from the standard normal distribution (Box and Muller 1958, Ann. Math. Stat. 29:610) */
	normal(): number {
		return Math.sqrt(-2 * Math.log(1 - this.fraction())) * Math.cos(2 * Math.PI * this.fraction());
	}
}

/** The operating system's generator. */
export class SystemRandomness extends Randomness {
	private pool = Buffer.alloc(0);
	private at = 0;

	fraction(): number {
		if (this.at + 8 > this.pool.length) {
			this.pool = randomBytes(4096);
			this.at = 0;
		}
		const high = this.pool.readUInt32LE(this.at) >>> 5;
		const low = this.pool.readUInt32LE(this.at + 4) >>> 6;
		this.at += 8;
		return (high * 67_108_864 + low) / 9_007_199_254_740_992;
	}
}

/** The same numbers again for the same start. */
export class SeededRandomness extends Randomness {
	private readonly generator: RandomGenerator;

	constructor(start: number) {
		super();
		this.generator = xoroshiro128plus(start);
	}

	fraction(): number {
		return uniformFloat64(this.generator);
	}
}
