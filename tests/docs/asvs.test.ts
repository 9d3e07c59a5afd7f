import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";

const root = join(__dirname, "../..");

/** Rows of the table: items, levels, what, file, title. */
const rows = readFileSync(join(root, ".docs/asvs.md"), "utf8")
	.split("\n")
	.map((line) => line.split("|").map((cell) => cell.trim()))
	.filter((cells) => cells.length === 7 && /^\d/.test(cells[1] ?? ""))
	.map(([, items = "", levels = "", what = "", file = "", title = ""]) => ({ items, levels, what, file, title }));

describe("the table of security items", () => {
	it("names items of the standard with their levels, and a test for each", () => {
		expect(rows.length).toBeGreaterThan(40);
		for (const { items, levels, what, file, title } of rows) {
			expect(items).toMatch(/^\d+\.\d+\.\d+(, \d+\.\d+\.\d+)*$/);
			expect(levels).toMatch(/^[12](, [12])*$/);
			expect([what, file, title].map((text) => text.length > 3)).toEqual([true, true, true]);
		}
	});

	it.each(rows)("proves $items by a test that is there: $title", ({ file, title }) => {
		expect([file, existsSync(join(root, file))]).toEqual([file, true]);
		const text = readFileSync(join(root, file), "utf8");
		expect([title, text.includes(title) || text.includes(title.replaceAll("'", "\\'"))]).toEqual([title, true]);
		const at = text.indexOf(title);
		expect(text.slice(at - 60, at)).toMatch(/(\bit\(\s*|\]\)\(\s*|\)\(\s*)["`']$/);
	});
});
