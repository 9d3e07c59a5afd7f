import { beliefAfter } from "../../src/science/belief.js";
import {
	comparatorUnevenSteps,
	comparatorWholeSteps,
	dipStrip,
	dropCount,
	type Kit,
	photometer,
} from "../../src/science/kits.js";
import { strengthTestOf } from "../../src/science/reading.js";
import { chanceUnder, strengthNow } from "../../src/science/strength-now.js";
import { type Chance, chanceFrom, type InventedBatch, inventedBatch, inventedReading } from "./invented-batches.js";

const kits: Kit[] = [comparatorWholeSteps, comparatorUnevenSteps, dropCount, photometer, dipStrip];
const weak = { sampleMl: 1, madeUpToL: 1 };
const usual = { sampleMl: 1, madeUpToL: 2 };
/** A kit that errs more than the belief is told. */
const careless = (kit: Kit): Kit => ({ ...kit, logSd: kit.logSd * 1.5, misreadShare: 0.06 });

/** Tests of a batch on random days, read with a kit that may differ from the one the belief is told, and a later day. */
function lived(chance: Chance, batch: InventedBatch, reader: (kit: Kit) => Kit = (kit) => kit) {
	const sunADay = chance.pick([0, 0, 0.005]);
	const exposureAt = (days: number) => ({ equivalentDaysAt25C: days, sunLossGPerL: days * sunADay });
	const kit = chance.pick(kits);
	const tests = [];
	let days = 3 * chance.uniform();
	for (let left = chance.pick([0, 1, 1, 2, 3]); left > 0; left--) {
		const exposure = exposureAt(days);
		const dilution = chance.pick([weak, usual, usual]);
		const reading = inventedReading(chance, reader(kit), dilution, batch.strengthGPerL(exposure));
		tests.push(strengthTestOf(kit, dilution, reading, exposure));
		days += 14 * chance.uniform();
	}
	return { tests, later: exposureAt(days) };
}

/** How many of so many truths fall in the 90 % interval, and how many below it, by the chance of being under the truth. */
function coverage(batches: number, start: number, reader?: (kit: Kit) => Kit) {
	const chance = chanceFrom(start);
	let inside = 0;
	let below = 0;
	for (let n = 0; n < batches; n++) {
		const batch = inventedBatch(chance);
		const { tests, later } = lived(chance, batch, reader);
		const under = chanceUnder(beliefAfter(batch.prior, batch.curve, tests), later, batch.strengthGPerL(later));
		if (under < 0.05) below++;
		else if (under <= 0.95) inside++;
	}
	return { inside: inside / batches, below: below / batches };
}

describe("calibration over invented batches", () => {
	// Computed independently: truths are drawn from the prior and readings from the kit's own error and misreadings, so that a
	// right posterior covers 90 %; the standard error of 10 000 is 0.3 %.
	it("has 90 % ± 1 % of 10 000 true strengths inside the 90 % interval, and 5 % ± 0.7 % below it", () => {
		const { inside, below } = coverage(10_000, 20_260);
		expect(Math.abs(inside - 0.9)).toBeLessThan(0.01);
		expect(Math.abs(below - 0.05)).toBeLessThan(0.007);
	}, 240_000);
	it("tells the same by the interval's ends as by the chance under the truth, for 100 batches", () => {
		const chance = chanceFrom(7);
		for (let n = 0; n < 100; n++) {
			const batch = inventedBatch(chance);
			const { tests, later } = lived(chance, batch);
			const now = strengthNow(beliefAfter(batch.prior, batch.curve, tests), later);
			const truth = batch.strengthGPerL(later);
			expect(truth >= now.lowGPerL && truth <= now.highGPerL).toBe(
				now.chanceUnder(truth) >= 0.05 && now.chanceUnder(truth) <= 0.95,
			);
		}
	});
	// How far it bends: the interval gets too narrow when readers err half as much again and misread three times as often.
	it("still has more than 80 % of 2 000 true strengths inside when readers are half as careful as the kit's figures say", () => {
		const { inside } = coverage(2_000, 99, careless);
		expect(inside).toBeGreaterThan(0.8);
		expect(inside).toBeLessThan(0.9);
	}, 60_000);
});
