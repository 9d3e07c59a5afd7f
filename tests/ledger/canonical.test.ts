import { describe, expect, it } from "@jest/globals";
import fc from "fast-check";
import { canonicalText, canonicalTextSql, DIGESTED, sha256 } from "../../src/ledger/canonical.js";
import published from "../published/hashing.json" with { type: "json" };
import { newStore, onEachDatabase } from "../support/stores.js";

describe("what a digest is made of", () => {
	// Source: FIPS 180-4 and NIST's examples.
	it.each(published.sha256.checks)("SHA-256 of $times times $text is $digest", ({ text, times, digest }) => {
		expect(sha256(text.repeat(times))).toBe(digest);
	});

	// Source: RFC 8785, 3.2.2.
	it("is the text that RFC 8785 writes, octet for octet", () => {
		const { value, utf8Hex } = published.rfc8785;
		expect(Buffer.from(canonicalText(value)).toString("hex")).toBe(utf8Hex.replaceAll(" ", ""));
	});
});

const anyText = fc.oneof(
	fc.string({ unit: "binary", maxLength: 12 }).map((text) => text.replaceAll("\0", "")),
	fc.constantFrom('"', "\\", "/", "\u007f", "\u2028\u2029", "\u0001\b\t\n\u000b\f\r\u001f", "é€😀", "'", ",", '","'),
);

onEachDatabase("the canonical text that the database makes", (kind) => {
	it("is the same as the program's, whatever stands in an entry", async () => {
		const store = await newStore(kind);
		try {
			const row = fc.record({
				texts: fc.array(anyText, { minLength: 6, maxLength: 6 }),
				may: fc.array(fc.option(anyText), { minLength: 3, maxLength: 3 }),
				atMs: fc.integer({ min: -8.64e15, max: 8.64e15 }),
			});
			await fc.assert(
				fc.asyncProperty(fc.array(row, { minLength: 1, maxLength: 40 }), async (drawn) => {
					const rows = drawn.map(
						({ texts: [id = "", actor, action, kind_, subject, detail], may: [area, because, origin], atMs }, i) =>
							[`${i} ${id}`, atMs, actor, action, kind_, subject, area, detail, because, origin].map((value) => value ?? null),
					) as (string | number | null)[][];
					const undone = new Error("only to look at");
					await store.work
						.run(async (tx) => {
							await tx.insert("ledger_entry", DIGESTED, rows);
							const made = await tx.query<{ id: string; canonical: string }>(
								`SELECT id, ${canonicalTextSql(kind)} AS canonical FROM ledger_entry`,
							);
							const byId = new Map(made.map(({ id, canonical }) => [id, canonical]));
							expect(rows.map(([id]) => byId.get(id as string))).toEqual(rows.map((row) => canonicalText(row)));
							throw undone;
						})
						.catch((error) => expect(error).toBe(undone));
				}),
				{ numRuns: 60 },
			);
		} finally {
			await store.remove();
		}
	});
});
