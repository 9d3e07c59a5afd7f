import { type TimelineEvent, timelineLines } from "../../src/demo/timeline.js";

const PLAIN = { timeZone: "Africa/Nairobi", colours: false } as const;
const at = (day: number, hour: number, minute = 0) => Date.UTC(2025, 10, day, hour, minute);

const told: TimelineEvent = {
	atMs: at(24, 5, 5),
	kind: "told",
	who: "Asha (invented)",
	text: "Test jar FIG-J13: 1 mL in 2 L. Answer K7M4X and the colour.",
	why: "7 of 100 that it is under 3.5 g/L",
};
const answered: TimelineEvent = { atMs: at(24, 6, 12), kind: "answered", who: "Asha (invented)", text: "K7M4X 2" };
const changed: TimelineEvent = {
	atMs: at(24, 6, 12),
	kind: "changed",
	who: "jar FIG-J13",
	text: "4.1 g/L, next test on 29 November",
};

describe("the timeline", () => {
	it("has one heading a local day that counts what happened, and a line an event with its reason below", () => {
		expect(timelineLines([told, answered, changed], PLAIN)).toEqual([
			"Monday 24 November 2025: 1 told, 1 answered, 1 changed",
			"  08:05  told       Asha          Test jar FIG-J13: 1 mL in 2 L. Answer K7M4X and the colour.",
			"                                  why: 7 of 100 that it is under 3.5 g/L",
			"  09:12  answered   Asha          K7M4X 2",
			"  09:12  changed    jar FIG-J13   4.1 g/L, next test on 29 November",
		]);
	});

	it("sorts by time, and begins a new day at local midnight, three hours before that of UTC", () => {
		const beforeMidnight = { ...answered, atMs: at(24, 20, 59), text: "before" };
		const afterMidnight = { ...answered, atMs: at(24, 21, 0), text: "after" };
		expect(
			timelineLines([afterMidnight, told, beforeMidnight], PLAIN).filter((line) => !line.startsWith("                ")),
		).toEqual([
			"Monday 24 November 2025: 1 told, 1 answered",
			expect.stringContaining("08:05  told"),
			expect.stringContaining("23:59  answered   Asha          before"),
			"",
			"Tuesday 25 November 2025: 1 answered",
			expect.stringContaining("00:00  answered   Asha          after"),
		]);
	});

	it("keeps within 80 columns when asked to, by breaking at spaces under the text", () => {
		const long = { ...told, text: "word ".repeat(60), why: "reason ".repeat(30) };
		const lines = timelineLines([long], { ...PLAIN, widthColumns: 80 });
		expect(Math.max(...lines.map((line) => line.length))).toBeLessThanOrEqual(80);
		expect(lines.join(" ").match(/word/g)).toHaveLength(60);
		expect(lines.slice(2).every((line) => line.startsWith(" ".repeat(34)))).toBe(true);
	});

	it("cuts a long name, so that the texts stay in one column", () => {
		const [, line] = timelineLines([{ ...answered, who: "Somebody with a very long name" }], PLAIN);
		expect(line).toBe("  09:12  answered   Somebody wit… K7M4X 2");
	});

	it("has no control characters without colours, and the same words with them", () => {
		const events = [
			told,
			answered,
			changed,
			{ ...answered, kind: "failed" } as const,
			{ ...answered, kind: "escalated" } as const,
		];
		const plain = timelineLines(events, PLAIN);
		const coloured = timelineLines(events, { ...PLAIN, colours: true });
		const esc = String.fromCharCode(27);
		expect(plain.join("")).not.toContain(esc);
		expect(coloured.join("")).toContain(esc);
		// ECMA-48 (5th ed. 1991), 8.3.117: select graphic rendition is ESC [ ... m.
		expect(coloured.map((line) => line.replace(new RegExp(`${esc}\\[\\d+m`, "g"), ""))).toEqual(plain);
	});

	it("has no lines for no events", () => {
		expect(timelineLines([], PLAIN)).toEqual([]);
	});
});
