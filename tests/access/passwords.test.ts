import { dictionary } from "@zxcvbn-ts/language-common";
import { assertGoodPassword, hashed, isOutdated, matches } from "../../src/access/passwords.js";

const isGood = (password: string, known: string[] = []) =>
	assertGoodPassword(password, "/password", known).then(
		() => true,
		() => false,
	);

describe("a password", () => {
	it("has 15 to 256 characters (NIST SP 800-63B-4, section 3.1.1.2), counted as people count them", async () => {
		expect(await isGood("jzq8 vkw2 xru5")).toBe(false);
		expect(await isGood("jzq8 vkw2 xru5m")).toBe(true);
		expect(await isGood("ዝናብ በተራራ ላይ ይዘንባል")).toBe(true);
		expect(await isGood("seven tall jars ".repeat(16))).toBe(true);
		expect(await isGood(`x${"seven tall jars ".repeat(16)}`)).toBe(false);
	});

	it.each([
		["small letters alone", "winter rain upon a tin roof"],
		["digits alone", "8305927461058392"],
		["spaces and signs", "§ ± – … « » ¶ † ‡ • ‰ ˜ ¬"],
	])("may be made of %s: no kind of character is asked for or refused (ASVS 6.2.5)", async (_, password) => {
		expect(await isGood(password)).toBe(true);
	});

	it("isn't a common one, nor one made longer by saying it again: of the 3,000 most common (ASVS 6.2.4) none passes", async () => {
		const common = dictionary["passwords-common"].slice(0, 3000);
		expect(common).toHaveLength(3000);
		const passed: string[] = [];
		for (const word of common) {
			const long = word.repeat(Math.ceil(15 / word.length));
			if (await isGood(long)) passed.push(long);
		}
		expect(passed).toEqual([]);
	}, 120_000);

	it("isn't made of a common one of 15 characters or more", async () => {
		const long = dictionary["passwords-common"].filter((word) => word.length >= 15);
		expect(long.length).toBeGreaterThan(20);
		for (const word of long) expect([word, await isGood(word)]).toEqual([word, false]);
	});

	it.each([
		"jarwatchjarwatch",
		"anna.otieno.anna",
		"chlorinebleach123",
		"qwertyuiopasdfgh",
		"aaaaaaaaaaaaaaaaaaaa",
		"FIG-S01 FIG-S01",
	])("isn't made of words known here, rows of keys or one letter: %s (ASVS 6.2.11)", async (password) => {
		expect(await isGood(password, ["anna.otieno", "FIG-S01"])).toBe(false);
	});

	it("is refused with the place and what would be right", async () => {
		await expect(assertGoodPassword("short", "/newPassword", [])).rejects.toMatchObject({
			code: "invalid-input",
			problems: [{ at: "/newPassword", message: expect.stringContaining("at least 15 characters") }],
		});
	});

	it("is kept as argon2id of 19 MiB, 2 iterations, 1 lane (OWASP Password Storage Cheat Sheet), each time with another salt", async () => {
		const [one, other] = await Promise.all([hashed("five jars in the shade"), hashed("five jars in the shade")]);
		expect(one).toMatch(/^\$argon2id\$v=19\$m=19456,t=2,p=1\$/);
		expect(one).not.toBe(other);
		expect(isOutdated(one)).toBe(false);
		expect(isOutdated(one.replace("t=2", "t=1"))).toBe(true);
	});

	it("is compared to the letter: neither case nor space nor what follows the 72nd byte is set aside (ASVS 6.2.8)", async () => {
		const long = `${"a row of jars stands in the shade of the mango tree, and nobody counts them"} twelve`;
		const kept = await hashed(long);
		expect(await matches(kept, long)).toBe(true);
		expect(Buffer.byteLength(long)).toBeGreaterThan(72);
		for (const other of [long.toUpperCase(), `${long} `, ` ${long}`, long.slice(0, -1), long.slice(0, 72)])
			expect(await matches(kept, other)).toBe(false);
	});

	it("of nobody is looked at as long as anybody's, and is never right", async () => {
		const kept = await hashed("five jars in the shade");
		const timed = async (against: string | null) => {
			const times: number[] = [];
			for (let i = 0; i < 9; i++) {
				const fromMs = performance.now();
				expect(await matches(against, "another password")).toBe(false);
				times.push(performance.now() - fromMs);
			}
			return times.sort((a, b) => a - b)[4]!;
		};
		await matches(null, "-");
		const [nobody, somebody] = [await timed(null), await timed(kept)];
		expect(nobody / somebody).toBeGreaterThan(0.4);
		expect(nobody / somebody).toBeLessThan(2.5);
	});

	it("is hashed beside everything else: the event loop goes on meanwhile", async () => {
		let turns = 0;
		const timer = setInterval(() => turns++, 1);
		await Promise.all(Array.from({ length: 12 }, () => hashed("five jars in the shade")));
		clearInterval(timer);
		expect(turns).toBeGreaterThan(5);
	});
});
