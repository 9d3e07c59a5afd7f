import { drawsFor } from "../../src/demo/draws.js";
import { DEMO_KIT } from "../../src/demo/kit-reading.js";
import { garbledText, replyText } from "../../src/demo/reply-text.js";
import { parsedAnswer } from "../../src/messages/answers.js";
import { newTaskCode } from "../../src/messages/task-code.js";
import { comparatorWholeSteps } from "../../src/science/kits.js";
import { kitNamed } from "../../src/stock/kits.js";

const draws = drawsFor(1, "codes");
const codes = Array.from({ length: 500 }, () => newTaskCode(draws));

describe("what simulated people type", () => {
	it.each(["as asked", "lower case, decimal comma", "value alone"] as const)("is read as it was meant: %s", (style) => {
		for (const [i, code] of codes.entries()) {
			const reading = ["0", "3", "5", "0.4", "1.5"][i % 5] as string;
			const read = parsedAnswer(replyText(style, { code, asked: { kind: "strength" } }, reading));
			expect(read).toMatchObject({ kind: "reading", reading });
			expect("code" in read ? read.code : undefined).toBe(style === "value alone" ? undefined : code);
		}
	});

	it("can't be taken for any answer when it is garbled", () => {
		const kinds = new Set(codes.map((code, i) => parsedAnswer(garbledText(draws, code, String(i % 6))).kind));
		expect([...kinds]).toEqual(["unclear"]);
	});

	it("is read on the kit that the demo's programme names", () => {
		expect(kitNamed(DEMO_KIT)).toBe(comparatorWholeSteps);
	});
});
