interface Wanted {
	/** E.164. */
	readonly numbers: readonly string[];
	readonly words: readonly string[];
}

/**
 * Looks for numbers and words in the spellings in which a dump might hold them: a number with and without its plus and its country, spaced,
 * hyphened or bracketed, and either of them in base64 or in hexadecimal.
 * @returns a search that answers with what it found
 */
export function lookingFor({ numbers, words }: Wanted): (text: string) => string[] {
	const plain = [...new Set(words.map((word) => word.toLowerCase()))];
	const digits = [...new Set(numbers.map((number) => number.replace(/\D/g, "").slice(-9)))];
	const coded = [...numbers, ...numbers.map((number) => number.slice(1)), ...words].flatMap((text) => [
		...base64Of(text),
		hexOf(text),
	]);
	return (text) => {
		const small = text.toLowerCase();
		const found = plain.filter((word) => small.includes(word));
		// Signs between digits are left out of each run of them, so that every spelling of a number is one.
		const runs = text.match(/\d(?:[\d ().-]*\d)?/g) ?? [];
		const joined = runs
			.filter((run) => run.length >= 9)
			.map((run) => run.replace(/\D/g, ""))
			.join(" ");
		found.push(...digits.filter((number) => joined.includes(number)));
		found.push(...coded.filter((code) => text.includes(code) || (/^[0-9a-f]+$/.test(code) && small.includes(code))));
		return found;
	};
}

/** What stands in base64 wherever in a text it lies: its three alignments, without what depends on its neighbours. */
function base64Of(text: string): string[] {
	return [0, 1, 2]
		.map((shift) => {
			const code = Buffer.from("x".repeat(shift) + text).toString("base64");
			return code.slice(shift === 0 ? 0 : shift + 1, -4);
		})
		.filter((code) => code.length >= 8);
}

function hexOf(text: string): string {
	return Buffer.from(text).toString("hex");
}
