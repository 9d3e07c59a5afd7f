import { withoutOwnAddress } from "../../src/messages/own-address.js";

const person = { phoneE164: "+447700900123", email: "vol+jar@example.org" };

describe("what a channel said", () => {
	it.each([
		["accepted for +447700900123", "accepted for [number]"],
		["accepted for 447700900123 as 17", "accepted for [number] as 17"],
		["to=07700 900 123;id=42", "to=[number];id=42"],
		["0044 (0)7700-900-123: unknown", "[number]: unknown"],
		["7700.900.123", "[number]"],
		["no mailbox VOL+jar@EXAMPLE.org here", "no mailbox [address] here"],
	])("is kept without whom it was said of: %j", (said, kept) => {
		expect(withoutOwnAddress(said, person)).toBe(kept);
	});

	it.each(["id 20260303080012345", "550 5.1.1 after 12 s", "+447700900999 is another's", "written"])(
		"keeps its other figures: %j",
		(said) => {
			expect(withoutOwnAddress(said, person)).toBe(said);
			expect(withoutOwnAddress(said, { phoneE164: null, email: null })).toBe(said);
		},
	);
});
