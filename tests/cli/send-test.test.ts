import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { exitCodeOf } from "../../src/cli/program.js";
import { addSendTest } from "../../src/cli/send-test/command.js";
import { httpPeer, type PeerAnswer } from "../support/http-peer.js";

const KEY = "an-invented-key-of-a-gateway";

describe("send-test", () => {
	const folder = mkdtempSync(join(tmpdir(), "jarwatch-send-test-"));
	const before = { ...process.env };
	afterEach(() => {
		process.env = { ...before };
	});
	afterAll(() => rmSync(folder, { recursive: true, force: true }));

	async function ran(answer: PeerAnswer, ...args: string[]) {
		const peer = await httpPeer(() => answer);
		const gateway = {
			url: peer.origin,
			secrets: { apiKey: "$JARWATCH_SECRET_GATEWAY" },
			headers: { authorization: "Bearer {apiKey}" },
			send: { as: "json", template: { to: "{to}", text: "{text}" } },
			answer: { id: "/id", reason: "/why" },
		};
		process.env = {
			...before,
			JARWATCH_DATA_FOLDER: folder,
			JARWATCH_NOTIFIERS: "sms-gateway,file",
			JARWATCH_CHANNELS: JSON.stringify({ "sms-gateway": gateway }),
			JARWATCH_SECRET_GATEWAY: KEY,
			JARWATCH_PRIVATE_ADDRESSES: "127.0.0.1",
		};
		const told = { out: "", err: "" };
		try {
			const code = await exitCodeOf(["send-test", ...args], [addSendTest], {
				out: (text) => {
					told.out += text;
				},
				err: (text) => {
					told.err += text;
				},
				write: async () => undefined,
			});
			return { code, ...told, received: peer.received };
		} finally {
			await peer.close();
		}
	}
	const to = ["--channel", "sms-gateway", "--to", "+44 7700 900123"];

	it("shows encoding and segments before it sends, and the gateway's answer after", async () => {
		const { code, out, received } = await ran({ body: '{"id": "g-1"}' }, ...to, "--text", "Pruébalo: 50 €");
		expect(code).toBe(0);
		// é is of the GSM alphabet and € takes two septets: 3GPP TS 23.038, section 6.2.1.
		expect(out).toMatch(
			/^channel {3}sms-gateway\nto {8}\+44 7700 900123\ntext {6}Pruébalo: 50 €\nas SMS {4}GSM-7, 15 septets, 1 segment\nanswer {4}accepted after \d+\.\d s: HTTP 200, id g-1\nids {7}g-1\n$/,
		);
		expect(received[0]?.headers.authorization).toBe(`Bearer ${KEY}`);
		expect(JSON.parse(received[0]?.body.toString() ?? "")).toEqual({ to: "+447700900123", text: "Pruébalo: 50 €" });
	});

	it("ends with 2 where the gateway refuses, says why, and shows no key", async () => {
		const { code, out, err } = await ran({ status: 401, body: `{"why": "unknown key ${KEY}"}` }, ...to);
		expect([code, err]).toEqual([2, "The test message was not taken.\n"]);
		expect(out).toContain("refused for good");
		expect(out).toContain("unknown key [secret]");
		expect(out).not.toContain(KEY);
	});

	it("names the channels there are where another one is asked for, and what an address may be", async () => {
		const unknown = await ran({}, "--channel", "sms", "--to", "+447700900123");
		expect([unknown.code, unknown.err]).toEqual([
			2,
			'JARWATCH_NOTIFIERS doesn\'t name the channel "sms"; it names sms-gateway, file.\n',
		]);
		const nobody = await ran({}, "--channel", "sms-gateway", "--to", "NOBODY-1");
		expect([nobody.code, nobody.received.length]).toEqual([2, 0]);
		expect(nobody.err).toContain("--to must be a phone number");
		const nothing = await ran({});
		expect(nothing.err).toContain("--channel is needed");
		expect(nothing.err).toContain("--to is needed");
	});
});
