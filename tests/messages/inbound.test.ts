import { createHmac } from "node:crypto";
import fc from "fast-check";
import { InputError } from "../../src/errors/errors.js";
import { textsIn } from "../../src/messages/inbound/incoming.js";
import { ownWords } from "../../src/messages/inbound/own-words.js";
import { isProven, isSigned } from "../../src/messages/inbound/proof.js";
import { receiptsIn } from "../../src/messages/inbound/receipts-in.js";
import { type InboundGateway, inboundGateway } from "../../src/settings/channels/inbound.js";

const NOW_MS = Date.UTC(2026, 2, 5, 9);
const proof = { by: "secret", secret: "an-invented-secret-of-a-gateway" } as const;
const gateway = (over: object): InboundGateway => inboundGateway.parse({ channel: "sms-gateway", proof, ...over });
const body = (value: unknown) => Buffer.from(JSON.stringify(value));
const problemsOf = (read: () => unknown) => {
	try {
		read();
	} catch (error) {
		if (error instanceof InputError) return error.problems;
		throw error;
	}
	throw new Error("it was taken");
};

describe("a gateway's receipts", () => {
	const words = { delivered: ["DELIVRD", "2"], failed: ["UNDELIV", "REJECTD"], expired: ["EXPIRED"] };
	const json = gateway({
		receipt: { list: "/results", id: "/message/id", status: "/state", reason: "/error", at: "/doneAt", ...words },
	});
	const form = gateway({ body: "form", receipt: { id: "/smsid", status: "/status", at: "/ts", ...words } });

	it("are read from a JSON list, each with its id, state, reason and instant", () => {
		const results = [
			{ message: { id: "g-1" }, state: "DELIVRD", doneAt: "2026-03-05T11:30:00+03:00" },
			{ message: { id: 7 }, state: "undeliv", error: "absent", doneAt: 1_772_699_400 },
			{ message: { id: "g-3" }, state: "ENROUTE" },
		];
		expect(receiptsIn(json, body({ results }), NOW_MS)).toEqual([
			{ channel: "sms-gateway", channelMessageId: "g-1", state: "delivered", reason: "DELIVRD", atMs: NOW_MS - 30 * 60_000 },
			{ channel: "sms-gateway", channelMessageId: "7", state: "failed", reason: "undeliv absent", atMs: NOW_MS - 30 * 60_000 },
			{ channel: "sms-gateway", channelMessageId: "g-3", state: "accepted", reason: "ENROUTE", atMs: NOW_MS },
		]);
	});

	it("are read from a form", () => {
		expect(receiptsIn(form, Buffer.from("smsid=a%2Bb&status=2&ts=1772699400000"), NOW_MS)).toEqual([
			{ channel: "sms-gateway", channelMessageId: "a+b", state: "delivered", reason: "2", atMs: NOW_MS - 30 * 60_000 },
		]);
	});

	it("are refused whole, with every place that is wrong", () => {
		const results = [{ message: {}, state: "DELIVRD" }, { message: { id: "x" }, state: "DELIVRD", doneAt: "yesterday" }, 3];
		expect(problemsOf(() => receiptsIn(json, body({ results }), NOW_MS)).map(({ at }) => at)).toEqual([
			"/results/0/message/id",
			"/results/1/doneAt",
			"/results/2/state",
			"/results/2/message/id",
		]);
		expect(problemsOf(() => receiptsIn(json, body({ result: [] }), NOW_MS))).toEqual([
			{ at: "/results", message: "must be a list" },
		]);
		expect(problemsOf(() => receiptsIn(json, Buffer.from("{"), NOW_MS))).toMatchObject([{ at: "" }]);
	});

	it("don't believe a gateway whose clock is ahead", () => {
		const results = [{ message: { id: "g" }, state: "EXPIRED", doneAt: "2027-01-01T00:00:00Z" }];
		expect(receiptsIn(json, body({ results }), NOW_MS)[0]).toMatchObject({ atMs: NOW_MS });
	});

	it("never break the reader, whatever JSON comes: either receipts or an error that says where", () => {
		fc.assert(
			fc.property(fc.json({ maxDepth: 4 }), (text) => {
				try {
					receiptsIn(json, Buffer.from(text), NOW_MS);
				} catch (error) {
					expect(error).toBeInstanceOf(InputError);
				}
			}),
			{ numRuns: 500 },
		);
	});
});

describe("a gateway's texts", () => {
	const sms = gateway({ text: { id: "/id", from: "/from", text: "/body" } });

	it("come from a number in the one form in which numbers are kept, with or without its plus", () => {
		for (const from of ["+447700900002", "447700900002", "00447700900002"])
			expect(textsIn(sms, body({ id: "1", from, body: "K7M4X 3" }), NOW_MS)).toEqual([
				{ channel: "sms-gateway", channelMessageId: "1", fromAddress: "+447700900002", body: "K7M4X 3" },
			]);
	});

	it("without an id are known by sender, words and time", () => {
		const timed = gateway({ text: { from: "/from", text: "/body", at: "/at" } });
		const id = (over: object) =>
			textsIn(timed, body({ from: "447700900002", body: "3", at: "2026-03-05T08:00:00Z", ...over }), NOW_MS)[0]?.channelMessageId;
		expect(id({})).toBe(id({}));
		expect(new Set([id({}), id({ body: "4" }), id({ at: "2026-03-05T08:00:01Z" }), id({ from: "447700900003" })]).size).toBe(4);
		expect(inboundGateway.safeParse({ channel: "x", proof, text: { from: "/from", text: "/body" } }).success).toBe(false);
	});

	it("are refused above 4096 bytes and with a NUL", () => {
		expect(problemsOf(() => textsIn(sms, body({ id: "1", from: "1", body: "é".repeat(2049) }), NOW_MS))).toMatchObject([
			{ at: "/body" },
		]);
		expect(problemsOf(() => textsIn(sms, body({ id: "1", from: "1", body: "a\0" }), NOW_MS))).toMatchObject([{ at: "/body" }]);
	});
});

describe("a relayed e-mail", () => {
	const mail = gateway({ channel: "email", mail: { id: "/messageId", from: "/from", subject: "/subject", text: "/plain" } });
	const read = (plain: string, subject = "Re: Jarwatch") =>
		textsIn(
			mail,
			body({ messageId: "<1@example.org>", from: '"Invented, Volunteer" <Vol@Example.org>', subject, plain }),
			NOW_MS,
		)[0];

	it("comes from an address in small letters, without what it quotes", () => {
		expect(
			read("K7M4X 3\r\n\r\nOn Thu, 5 Mar 2026 at 08:00, Jarwatch <jars@example.org> wrote:\r\n> Test jar B1 today.\r\n"),
		).toEqual({
			channel: "email",
			channelMessageId: "<1@example.org>",
			fromAddress: "vol@example.org",
			body: "K7M4X 3",
		});
	});

	it("whose body is empty says what its subject says", () => {
		expect(read("\r\n", "RE: Aw: K7M4X 3")?.body).toBe("K7M4X 3");
	});

	it.each([
		["K7M4X 3", "K7M4X 3"],
		["3\n\nLe jeu. 5 mars 2026 à 08:00, Jarwatch\n<jars@example.org> a écrit :\n> Testez", "3"],
		["3\n-- \nInvented Volunteer\n+44 7700 900002", "3"],
		["3\n\n-----Original Message-----\nFrom: Jarwatch", "3"],
		["3\n________________________________\nFrom: Jarwatch", "3"],
		["> Test jar B1 today.\n3", ""],
		["first line:\nsecond", "first line:\nsecond"],
		["a > b", "a > b"],
	])("of %j is %j in her own words", (whole, own) => expect(ownWords(whole)).toBe(own));
});

describe("how a gateway shows itself", () => {
	// Source: RFC 4231 (2005), test case 2: key "Jefe", data "what do ya want for nothing?".
	const RFC_4231 = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843";
	const signing = (over: object = {}) => ({
		proof: {
			by: "signature",
			header: "x-signature",
			secret: "Jefe",
			hash: "sha256",
			encoding: "hex",
			prefix: "",
			...over,
		} as never,
	});
	const data = Buffer.from("what do ya want for nothing?");

	it("by HMAC-SHA-256 over the body, as the published vector has it, in hex, base64 and behind a prefix", () => {
		expect(isSigned(signing(), { "x-signature": RFC_4231 }, data)).toBe(true);
		expect(isSigned(signing({ prefix: "sha256=" }), { "x-signature": `sha256=${RFC_4231}` }, data)).toBe(true);
		const base64 = Buffer.from(RFC_4231, "hex").toString("base64");
		expect(isSigned(signing({ encoding: "base64" }), { "x-signature": base64 }, data)).toBe(true);
	});

	it("is refused with a byte changed anywhere, a part of the signature, none, or another body", () => {
		for (let at = 0; at < RFC_4231.length; at++) {
			const changed = RFC_4231.slice(0, at) + (RFC_4231[at] === "0" ? "1" : "0") + RFC_4231.slice(at + 1);
			expect(isSigned(signing(), { "x-signature": changed }, data)).toBe(false);
		}
		expect(isSigned(signing(), { "x-signature": RFC_4231.slice(0, 32) }, data)).toBe(false);
		expect(isSigned(signing(), { "x-signature": "" }, data)).toBe(false);
		expect(isSigned(signing(), {}, data)).toBe(false);
		expect(isSigned(signing({ prefix: "sha256=" }), { "x-signature": RFC_4231 }, data)).toBe(false);
		expect(isSigned(signing(), { "x-signature": RFC_4231 }, Buffer.concat([data, Buffer.from(" ")]))).toBe(false);
		expect(isSigned(signing(), { "x-signature": createHmac("sha256", "jefe").update(data).digest("hex") }, data)).toBe(false);
	});

	it("by a secret in a header, or a password", () => {
		const own = gateway({ receipt: { id: "/id", status: "/s" } });
		expect(isProven(own, { "x-inbound-secret": proof.secret })).toBe(true);
		expect(isProven(own, { "x-inbound-secret": `${proof.secret}x` })).toBe(false);
		expect(isProven(own, {})).toBe(false);
		const basic = gateway({ proof: { by: "basic", user: "g", password: proof.secret }, receipt: { id: "/id", status: "/s" } });
		const given = (user: string) => ({ authorization: `Basic ${Buffer.from(`${user}:${proof.secret}`).toString("base64")}` });
		expect([isProven(basic, given("g")), isProven(basic, given("h")), isProven(basic, {})]).toEqual([true, false, false]);
	});
});
