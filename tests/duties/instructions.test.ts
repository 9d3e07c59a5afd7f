import { instructed, instructionTexts } from "../../src/duties/instructions.js";
import { dutyKinds } from "../../src/duties/list.js";
import { Calendars } from "../../src/stock/places.js";
import { VirtualClock } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";

const kinds = dutyKinds({ ids: new Ids(new VirtualClock(0), new SeededRandomness(1)), calendars: new Calendars() });

describe("instructions", () => {
	it.each(kinds.map((kind) => [kind.name, kind] as const))(
		"of %s name a figure that an older task lacks by a dash, and ask for a number, one of several, or done",
		(_, kind) => {
			const { asks, steps } = kind.guidance({ jar: "J1", scale: "0-5", cause1: "battery", cause2: "electrode", cause3: "salt" });
			expect(Boolean(asks.number) || Boolean(asks.choices?.length) || asks.done === true).toBe(true);
			expect(steps.length).toBeGreaterThan(1);
			const brief = { cause1: "battery", cause2: "electrode", cause3: "salt" };
			for (const language of instructionTexts.languages)
				for (const text of Object.values(kind.instructions(brief, language)).flat()) expect(text).not.toMatch(/undefined|NaN|\{/);
		},
	);

	it("write numbers as the language does, in the digits 0 to 9, and never grouped", () => {
		expect(instructed("retest.mix", { waterL: 1.5 }, "en")).toContain("to 1.5 L in all");
		expect(instructed("make.total", { saltG: 12345 }, "en")).toContain("12345 g of salt");
	});
});
