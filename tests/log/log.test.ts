import { newLog, withoutSecrets } from "../../src/log/log.js";

describe("log lines", () => {
	it("show no phone number in six spellings, no key, no signing secret and no database password, wherever they stand", () => {
		const lines: string[] = [];
		const log = newLog("info", { write: (line: string) => void lines.push(line) });
		for (const number of [
			"+447700900123",
			"+44 7700 900123",
			"00447700900123",
			"+44 (7700) 900-123",
			"+44.7700.900.123",
			"+44-7700-900123",
		])
			log.info({ note: `told ${number}` }, `sent to ${number}`);
		log.info({ recipient: { phoneE164: "07700900123" }, headers: { authorization: "Bearer abcdefghijklmnop" } }, "request");
		log.warn(
			{ err: new Error("postgres://jarwatch:hunter2hunter2@db:5432/x refused") },
			"whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
		);
		const all = lines.join("");
		expect(lines).toHaveLength(8);
		expect(all).not.toMatch(/7700|900.?123/);
		for (const secret of ["abcdefghijklmnop", "hunter2", "MfKQ9r8G"]) expect(all).not.toContain(secret);
	});

	it("keep figures that aren't numbers of phones", () => {
		expect(withoutSecrets("4.4 g/L after 16 days at 1 mL in 2 L; 2026-03-03 08:00")).toBe(
			"4.4 g/L after 16 days at 1 mL in 2 L; 2026-03-03 08:00",
		);
	});
});
