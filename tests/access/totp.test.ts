import { Secret, TOTP } from "otpauth";
import { newTotpSecret, totpAddress, totpStepOf } from "../../src/access/totp.js";

/** RFC 6238 (2011), appendix B: the secret of 20 bytes for SHA-1, in base 32, instants in seconds and codes of eight digits. */
const RFC_SECRET = new Secret({ buffer: new TextEncoder().encode("12345678901234567890").buffer as ArrayBuffer });
const RFC_CODES: readonly (readonly [number, string])[] = [
	[59, "94287082"],
	[1_111_111_109, "07081804"],
	[1_111_111_111, "14050471"],
	[1_234_567_890, "89005924"],
	[2_000_000_000, "69279037"],
	[20_000_000_000, "65353130"],
];

describe("a code of an authenticator app", () => {
	it.each(RFC_CODES)("at %i s is %s, as RFC 6238, appendix B has it; ours is its last six digits", (seconds, code) => {
		const whole = new TOTP({ secret: RFC_SECRET, algorithm: "SHA1", digits: 8, period: 30 });
		expect(whole.generate({ timestamp: seconds * 1000 })).toBe(code);
		expect(totpStepOf(RFC_SECRET.base32, code.slice(-6), seconds * 1000)).toBe(Math.floor(seconds / 30));
	});

	it("belongs to its own 30 seconds and may come up to 30 seconds late, never early (RFC 6238, section 5.2)", () => {
		const code = "287082";
		expect([30, 59, 60, 89].map((s) => totpStepOf(RFC_SECRET.base32, code, s * 1000))).toEqual([1, 1, 1, 1]);
		expect([0, 29, 90, 300].map((s) => totpStepOf(RFC_SECRET.base32, code, s * 1000))).toEqual([
			undefined,
			undefined,
			undefined,
			undefined,
		]);
	});

	it("is six digits and nothing else", () => {
		for (const code of ["", "28708", "2870820", "28708x", "287 082", "-87082"])
			expect([code, totpStepOf(RFC_SECRET.base32, code, 59_000)]).toEqual([code, undefined]);
	});

	it("comes of a secret of 160 random bits (RFC 4226, section 4, R6), each another", () => {
		const secrets = new Set(Array.from({ length: 100 }, newTotpSecret));
		expect(secrets.size).toBe(100);
		for (const secret of secrets) expect(secret).toMatch(/^[A-Z2-7]{32}$/);
	});

	it("is set up by an address that apps read, with issuer, name, secret, digits and period", () => {
		const address = new URL(totpAddress(RFC_SECRET.base32, "anna"));
		expect([address.protocol, address.host, decodeURIComponent(address.pathname)]).toEqual([
			"otpauth:",
			"totp",
			"/Jarwatch:anna",
		]);
		expect(Object.fromEntries(address.searchParams)).toEqual({
			issuer: "Jarwatch",
			secret: RFC_SECRET.base32,
			algorithm: "SHA1",
			digits: "6",
			period: "30",
		});
	});
});
