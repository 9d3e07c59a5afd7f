import { mkdtempSync, readFileSync } from "node:fs";
import { createServer, type IncomingMessage } from "node:http";
import type { AddressInfo } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Writable } from "node:stream";
import { pino } from "pino";
import { ConsoleNotifier } from "../../src/messages/channels/console.js";
import { FileNotifier } from "../../src/messages/channels/file.js";
import { Outward } from "../../src/messages/channels/outward.js";
import { notifiersFrom } from "../../src/messages/channels/registry.js";
import { signedHeaders } from "../../src/messages/channels/standard-webhook.js";
import { WebhookNotifier } from "../../src/messages/channels/webhook.js";
import type { Outgoing } from "../../src/messages/notifier.js";
import { settingsFrom } from "../../src/settings/settings.js";
import { VirtualClock } from "../../src/time/clock.js";

const message: Outgoing = {
	idempotencyKey: "task1.0.vol",
	messageId: "m1",
	taskId: "task1",
	text: "Test jar B1 today.",
	language: "en",
	urgent: false,
	recipient: { personId: "vol", name: "Invented Volunteer", phoneE164: "+447700900002", email: null },
	attemptedAtMs: 1_614_265_330_000,
};
const SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";
const signal = new AbortController().signal;
const folder = () => mkdtempSync(join(tmpdir(), "jarwatch-channel-"));

describe("the webhook channel", () => {
	// Source: Standard Webhooks 1.0.0, the vector in its reference libraries' own tests.
	it("signs id, timestamp and body as the published vector has it", () => {
		const headers = signedHeaders(SECRET, "msg_p5jXN8AQM9LWM0D4loKWxJek", 1_614_265_330_000, '{"test": 2432232314}');
		expect(headers).toEqual({
			"webhook-id": "msg_p5jXN8AQM9LWM0D4loKWxJek",
			"webhook-timestamp": "1614265330",
			"webhook-signature": "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
		});
	});

	async function answered(status: number, headers: Record<string, string> = {}) {
		let received: { request: IncomingMessage; body: string } | undefined;
		const server = createServer((request, response) => {
			let body = "";
			request.on("data", (part) => {
				body += part;
			});
			request.on("end", () => {
				received = { request, body };
				response.writeHead(status, headers).end("noted");
			});
		});
		await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
		const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/hook`;
		const notifier = new WebhookNotifier({ url, secret: SECRET }, new VirtualClock(1_614_265_330_000), new Outward("allowed"));
		const delivery = await notifier.send(message, signal);
		await notifier.close();
		server.closeAllConnections();
		await new Promise((resolve) => server.close(resolve));
		return { delivery, received };
	}

	it("posts JSON to a real server, with the message's id as webhook-id, the same at every try, and a signature that fits the body", async () => {
		const { delivery, received } = await answered(200);
		expect(delivery.kind).toBe("accepted");
		const headers = received?.request.headers;
		expect(received?.request.method).toBe("POST");
		expect(headers?.["webhook-id"]).toBe("m1");
		expect(headers?.["webhook-signature"]).toBe(
			signedHeaders(SECRET, "m1", 1_614_265_330_000, received?.body ?? "")["webhook-signature"],
		);
		expect(JSON.parse(received?.body ?? "{}")).toMatchObject({
			data: { text: "Test jar B1 today.", idempotencyKey: "task1.0.vol" },
		});
	});

	it.each([
		[204, "accepted", undefined],
		[301, "refused", undefined],
		[404, "refused", true],
		[410, "refused", true],
		[408, "refused", false],
		[429, "refused", false],
		[500, "refused", false],
		[503, "refused", false],
	])("takes status %i as %s", async (status, kind, forGood) => {
		const { delivery } = await answered(status, status === 301 ? { location: "/elsewhere" } : {});
		expect(delivery.kind).toBe(kind);
		if (delivery.kind === "refused" && forGood !== undefined) expect(delivery.forGood).toBe(forGood);
	});

	it("waits as long as Retry-After says: 120 s", async () => {
		const { delivery } = await answered(503, { "retry-after": "120" });
		expect(delivery).toMatchObject({ kind: "refused", forGood: false, retryAfterMs: 120_000 });
	});
});

describe("the file and console channels", () => {
	it("keep every message as one JSON line, 50 at once included", async () => {
		const path = join(folder(), "messages.jsonl");
		const notifier = new FileNotifier(path);
		await Promise.all(Array.from({ length: 50 }, (_, i) => notifier.send({ ...message, idempotencyKey: `k${i}` })));
		await notifier.close();
		const lines = readFileSync(path, "utf8").trim().split("\n");
		expect(new Set(lines.map((line) => JSON.parse(line).idempotencyKey)).size).toBe(50);
	});

	it("show name and text and hide the middle of the number", async () => {
		let shown = "";
		const out = new Writable({
			write(part, _, done) {
				shown += part;
				done();
			},
		});
		expect((await new ConsoleNotifier(out).send(message)).kind).toBe("accepted");
		expect(shown).toContain("Invented Volunteer");
		expect(shown).toContain("Test jar B1 today.");
		expect(shown).not.toContain("7700900");
	});
});

describe("a notifier from another package", () => {
	const context = (named: string, ownSettings = {}) => ({
		settings: settingsFrom({ JARWATCH_NOTIFIERS: named }),
		clock: new VirtualClock(0),
		log: pino({ level: "silent" }),
		out: process.stdout,
		ownSettings,
	});
	const example = `./${join("tests", "support", "example-notifier", "index.cjs")}`;

	it("is named in the settings, gets its own settings alone, and sends beside the built-in ones", async () => {
		const path = join(folder(), "example.tsv");
		const notifiers = await notifiersFrom(context(`${example},console`, { EXAMPLE_FILE: path }));
		expect([...notifiers.keys()]).toEqual(["example", "console"]);
		expect(await notifiers.get("example")?.send(message, signal)).toEqual({ kind: "accepted", answer: "appended" });
		expect(readFileSync(path, "utf8")).toBe("+447700900002\ttask1.0.vol\tTest jar B1 today.\n");
	});

	it("stops the start where there is none of that name, or what is there is no notifier", async () => {
		await expect(notifiersFrom(context("no-such-notifier-package"))).rejects.toMatchObject({ code: "notifier-unknown" });
		await expect(notifiersFrom(context("./tests/support/closing-line.cjs"))).rejects.toMatchObject({ code: "notifier-refused" });
	});
});
