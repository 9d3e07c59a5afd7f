import { existsSync } from "node:fs";
import { join } from "node:path";
import { documents, examplesIn, madeBy } from "../support/document-examples.js";

const root = join(__dirname, "../..");

describe("the examples in the documents", () => {
	beforeAll(() => {
		if (!existsSync(join(root, "dist/src/cli.js"))) throw new Error("the program isn't built: npm run build, then again");
	});

	const examples = documents(root).flatMap((document) => examplesIn(root, document));

	it("are a forecast table, a forecast picture and a dose card in the README at least", () => {
		expect(examples.filter(({ document }) => document === "README.md").length).toBeGreaterThanOrEqual(3);
	});

	it.each(examples)("$document shows byte for byte what is made by: $command", (example) => {
		expect(madeBy(root, example)).toBe(example.shown);
	});
});
