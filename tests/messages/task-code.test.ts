import fc from "fast-check";
import { newTaskCode, taskCodeFrom } from "../../src/messages/task-code.js";
import { SeededRandomness } from "../../src/time/randomness.js";

const ALPHABET = "34679ACDEFGHJKMNPQRTWXY";
const codes = (count: number, start = 1) => {
	const randomness = new SeededRandomness(start);
	return Array.from({ length: count }, () => newTaskCode(randomness));
};

describe("a task code", () => {
	it("is five characters of the 23-character alphabet, begins with a letter and holds a digit", () => {
		for (const code of codes(5000)) {
			expect(code).toMatch(/^[ACDEFGHJKMNPQRTWXY][34679ACDEFGHJKMNPQRTWXY]{4}$/);
			expect(code).toMatch(/\d/);
		}
	});

	// Computed independently from the definition: 5a + 4b + 3c + 2d + e = 0 modulo 23 over the places in the alphabet.
	it("ends in the character that makes 5a + 4b + 3c + 2d + e a multiple of 23", () => {
		for (const code of codes(5000)) {
			const sum = [5, 4, 3, 2, 1].reduce((total, weight, i) => total + weight * ALPHABET.indexOf(code[i]!), 0);
			expect(sum % 23).toBe(0);
		}
	});

	it("is known in small letters and with blanks around it", () => {
		for (const code of codes(200)) expect(taskCodeFrom(` ${code.toLowerCase()}\t`)).toBe(code);
	});

	it("isn't known any more with any one character changed, for 1000 codes and all 36 letters and digits in all 5 places", () => {
		const every = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
		let tried = 0;
		const taken: string[] = [];
		for (const code of codes(1000))
			for (let place = 0; place < 5; place++)
				for (const other of every) {
					if (other === code[place]) continue;
					tried++;
					const changed = code.slice(0, place) + other + code.slice(place + 1);
					if (taskCodeFrom(changed)) taken.push(changed);
				}
		expect(taken).toEqual([]);
		expect(tried).toBe(1000 * 5 * 35);
	});

	it("isn't known any more with any two unequal neighbours swapped, for 20 000 codes", () => {
		const taken: string[] = [];
		for (const code of codes(20_000, 2))
			for (let place = 0; place < 4; place++) {
				if (code[place] === code[place + 1]) continue;
				const swapped = code.slice(0, place) + code[place + 1] + code[place] + code.slice(place + 2);
				if (taskCodeFrom(swapped)) taken.push(swapped);
			}
		expect(taken).toEqual([]);
	});

	it("isn't known with a character missing or added", () => {
		for (const code of codes(500)) {
			expect(taskCodeFrom(code.slice(1))).toBeUndefined();
			expect(taskCodeFrom(`${code}3`)).toBeUndefined();
		}
	});

	it("is never a word: nothing made of letters alone is one", () => {
		fc.assert(
			fc.property(fc.stringMatching(/^[A-Z]{5}$/), (word) => {
				expect(taskCodeFrom(word)).toBeUndefined();
			}),
		);
	});

	it("comes out differently nearly always: 2000 draws repeat fewer than 30 times where 179 000 are possible", () => {
		expect(new Set(codes(2000)).size).toBeGreaterThan(1970);
	});
});
