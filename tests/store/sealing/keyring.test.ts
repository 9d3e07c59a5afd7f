import { createDecipheriv, createHmac, hkdfSync } from "node:crypto";
import { Keyring } from "../../../src/store/sealing/keyring.js";

const OLD = Buffer.alloc(32, 1).toString("base64");
const NEW = Buffer.alloc(32, 2).toString("hex");
const ring = new Keyring([OLD]);

describe("a keyring", () => {
	it("opens what it sealed, in every script, and seals the same value differently each time", () => {
		for (const text of ["Zawadi", "+447700900123", "ржа́вый", "নাম", "🙂".repeat(50), "x".repeat(10_000)]) {
			const [one, two] = [ring.seal("person.name", text), ring.seal("person.name", text)];
			expect(ring.open("person.name", one)).toBe(text);
			expect(one).not.toBe(two);
			expect(one).not.toContain(text);
		}
	});

	it("seals as AES-256-GCM under keys by HKDF-SHA-256, so that another program can open it with the key alone", () => {
		// Opened in the words of the standards, beside the program's own. Source: RFC 5869 (HKDF), NIST SP 800-38D (GCM), RFC 2104 (HMAC)
		const sealed = ring.seal("person.phone_e164", "+447700900123", "address");
		const [mark, blind, id, body] = sealed.split(".") as [string, string, string, string];
		const derived = (what: string, length: number) =>
			Buffer.from(hkdfSync("sha256", Buffer.alloc(32, 1), "", `jarwatch ${what} 1`, length));
		const bytes = Buffer.from(body, "base64url");
		const decipher = createDecipheriv("aes-256-gcm", derived("sealing", 32), bytes.subarray(0, 12));
		decipher.setAAD(Buffer.from(`${mark}.${blind}.${id}.person.phone_e164`));
		decipher.setAuthTag(bytes.subarray(-16));
		expect(Buffer.concat([decipher.update(bytes.subarray(12, -16)), decipher.final()]).toString()).toBe("+447700900123");
		expect(id).toBe(derived("key id", 6).toString("base64url"));
		const mac = createHmac("sha256", derived("blind index", 32)).update("address\0+447700900123").digest();
		expect(blind).toBe(mac.subarray(0, 16).toString("base64url"));
	});

	it("opens a value nowhere but in its own column, and not once a character of it was changed", () => {
		const sealed = ring.seal("person.name", "Zawadi", "name");
		expect(() => ring.open("person.email", sealed)).toThrow(/changed since it was sealed, or that was sealed for another column/);
		for (const at of [8, 30, 45, sealed.length - 2]) {
			const other = sealed[at] === "A" ? "B" : "A";
			expect(() => ring.open("person.name", sealed.slice(0, at) + other + sealed.slice(at + 1))).toThrow(
				/person\.name holds a value/,
			);
		}
	});

	it("opens with an old key behind the new one, knows what isn't sealed anew yet, and finds a value under both", () => {
		const sealed = ring.seal("person.phone_e164", "+447700900123", "address");
		const both = new Keyring([NEW, OLD]);
		expect(both.open("person.phone_e164", sealed)).toBe("+447700900123");
		expect([both.isFresh(sealed), ring.isFresh(sealed)]).toEqual([false, true]);
		expect(both.blinds("address", "+447700900123")).toContain(sealed.split(".")[1]);
		expect(() => new Keyring([NEW]).open("person.phone_e164", sealed)).toThrow(/none of the configured keys/);
	});

	it("finds an e-mail in capitals, a name without its accents, and no name by an address that reads alike", () => {
		expect(ring.blinds("address", "VOL@Example.org")).toEqual(ring.blinds("address", "vol@example.org"));
		expect(ring.blinds("name", " Zélie  NGOMA")).toEqual(ring.blinds("name", "zelie ngoma"));
		expect(ring.blinds("name", "vol@example.org")).not.toEqual(ring.blinds("address", "vol@example.org"));
		expect(ring.blinds("address", "+447700900123")).not.toEqual(ring.blinds("address", "+447700900124"));
	});

	it.each(["", "short", "=".repeat(44), "g".repeat(64), Buffer.alloc(24).toString("base64")])(
		"refuses %j as a key and says what would be right, without telling it",
		(text) => {
			expect(() => new Keyring([text])).toThrow(/32 bytes in base64 or hexadecimal/);
		},
	);
});
