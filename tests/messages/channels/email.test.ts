import type { AddressInfo } from "node:net";
import { SMTPServer, type SMTPServerOptions } from "smtp-server";
import { EmailNotifier } from "../../../src/messages/channels/email.js";
import { email } from "../../../src/settings/channels/email.js";
import { forever, outgoing } from "./a-message.js";

interface ReceivedMail {
	readonly from: string;
	readonly to: readonly string[];
	readonly headers: ReadonlyMap<string, string>;
	readonly body: string;
}

describe("the channel of a mail server", () => {
	const ends: (() => Promise<void>)[] = [];
	afterEach(async () => {
		for (const end of ends.splice(0).reverse()) await end();
	});

	/** A real SMTP server on the loopback. */
	async function linked(options: SMTPServerOptions = {}, over: object = {}) {
		const received: ReceivedMail[] = [];
		const server = new SMTPServer({
			authOptional: true,
			disabledCommands: ["STARTTLS"],
			allowInsecureAuth: true,
			logger: false,
			onData(stream, session, done) {
				const parts: Buffer[] = [];
				stream.on("data", (part: Buffer) => parts.push(part));
				stream.on("end", () => {
					const { mailFrom, rcptTo } = session.envelope;
					received.push({
						from: mailFrom ? mailFrom.address : "",
						to: rcptTo.map(({ address }) => address),
						...parsed(Buffer.concat(parts).toString("latin1")),
					});
					done();
				});
			},
			...options,
		});
		server.on("error", () => undefined);
		await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
		ends.push(() => new Promise((resolve) => server.close(() => resolve())));
		const { port } = server.server.address() as AddressInfo;
		const settings = email.parse({ host: "127.0.0.1", port, tls: "none", from: "jars@example.org", answerSeconds: 2, ...over });
		const notifier = new EmailNotifier(settings);
		ends.push(() => notifier.close());
		return { received, notifier };
	}

	it("hands over plain text with an id that follows from the message's key, and with what keeps machines from answering", async () => {
		const { received, notifier } = await linked({}, { replyTo: "answers@example.org" });
		const text = `Bidon très faible : 塩素 50 %\n.\n..${"long ".repeat(300)}`;
		const delivery = await notifier.send(outgoing({ text, language: "fr", urgent: true }), forever);
		const id = received[0]?.headers.get("message-id");
		expect(delivery).toEqual({ kind: "accepted", answer: "taken by the mail server", channelMessageIds: [id] });
		expect(id).toMatch(/^<[0-9a-f]{32}@example\.org>$/);
		expect(received).toMatchObject([{ from: "jars@example.org", to: ["vol@example.org"] }]);
		expect(Object.fromEntries(received[0]?.headers ?? [])).toMatchObject({
			// RFC 3834, section 5
			"auto-submitted": "auto-generated",
			"content-language": "fr",
			"content-type": "text/plain; charset=utf-8",
			from: "Jarwatch <jars@example.org>",
			to: "vol@example.org",
			"reply-to": "answers@example.org",
			subject: "Jarwatch",
			"x-priority": "1 (Highest)",
			date: "Thu, 25 Feb 2021 15:02:10 +0000",
		});
		expect(received[0]?.body.replace(/\r\n/g, "\n").trimEnd()).toBe(text.trimEnd());
	});

	it("gives the same id at every try of a message, and another to another message", async () => {
		const { received, notifier } = await linked();
		for (const over of [{}, {}, { idempotencyKey: "other" }]) await notifier.send(outgoing(over), forever);
		const ids = received.map(({ headers }) => headers.get("message-id"));
		expect(ids[0]).toBe(ids[1]);
		expect(ids[2]).not.toBe(ids[0]);
	});

	const refusing = (responseCode: number, message: string) => Object.assign(new Error(message), { responseCode });

	// RFC 5321, section 4.2.1: 4yz may succeed later, 5yz will not.
	it.each([
		[550, true],
		[553, true],
		[450, false],
		[421, false],
	])("takes %i to the recipient for %s (refused for good), and doesn't repeat the address", async (code, forGood) => {
		const { received, notifier } = await linked({
			onRcptTo: ({ address }, _, done) => done(refusing(code, `no mailbox ${address}`)),
		});
		const delivery = await notifier.send(outgoing(), forever);
		expect(delivery).toMatchObject({ kind: "refused", forGood });
		expect(delivery).toMatchObject({ reason: expect.stringContaining(`SMTP ${code}`) });
		expect(JSON.stringify(delivery)).not.toContain("vol@example.org");
		expect(received).toEqual([]);
	});

	it.each([
		[554, true],
		[452, false],
	])("takes %i after the text for %s", async (code, forGood) => {
		const { notifier } = await linked({
			onData(stream, _, done) {
				stream.resume();
				stream.on("end", () => done(refusing(code, "not this text")));
			},
		});
		expect(await notifier.send(outgoing(), forever)).toMatchObject({ kind: "refused", forGood });
	});

	it("signs in where the settings have a user; a refused sign-in is nobody's message's fault", async () => {
		const onAuth: SMTPServerOptions["onAuth"] = ({ username, password }, _, done) =>
			username === "jars" && password === "invented" ? done(null, { user: "jars" }) : done(refusing(535, "no"));
		const right = await linked({ authOptional: false, onAuth }, { user: "jars", password: "invented" });
		expect(await right.notifier.send(outgoing(), forever)).toMatchObject({ kind: "accepted" });
		const wrong = await linked({ authOptional: false, onAuth }, { user: "jars", password: "other" });
		expect(await wrong.notifier.send(outgoing(), forever)).toMatchObject({ kind: "refused", forGood: false });
	});

	it("sends nothing in the clear where TLS is asked for and the server has none, nor to a certificate that nobody vouches for", async () => {
		const without = await linked({}, { tls: "start" });
		expect(await without.notifier.send(outgoing(), forever)).toMatchObject({ kind: "refused", forGood: false });
		expect(without.received).toEqual([]);
		// The server's own certificate is one that it signed itself.
		const unknown = await linked({ disabledCommands: [] }, { tls: "start" });
		expect(await unknown.notifier.send(outgoing(), forever)).toMatchObject({ kind: "refused", forGood: false });
		expect(unknown.received).toEqual([]);
	});

	it("is refused for now where nobody listens, and for good where the person has no address", async () => {
		const nobody = new EmailNotifier(email.parse({ host: "127.0.0.1", port: 1, tls: "none", from: "jars@example.org" }));
		expect(await nobody.send(outgoing(), forever)).toMatchObject({ kind: "refused", forGood: false });
		expect(await nobody.send(outgoing({ recipient: { email: null } }), forever)).toMatchObject({
			kind: "refused",
			forGood: true,
		});
		await nobody.close();
	});

	it("can't be made to write another header or to another person by what stands in text or name", async () => {
		const { received, notifier } = await linked();
		const name = "x\r\nBcc: other@example.org";
		await notifier.send(outgoing({ text: "\r\nBcc: other@example.org\r\n\r\nhello", recipient: { name } }), forever);
		expect(received).toMatchObject([{ to: ["vol@example.org"] }]);
		expect(received[0]?.headers.has("bcc")).toBe(false);
	});
});

/** Reads a message by hand: header fields unfolded, the body out of quoted-printable. Source: RFC 5322, section 2.2; RFC 2045, section 6.7 */
function parsed(raw: string): Pick<ReceivedMail, "headers" | "body"> {
	const end = raw.indexOf("\r\n\r\n");
	const lines = raw
		.slice(0, end)
		.replace(/\r\n[ \t]+/g, " ")
		.split("\r\n");
	const headers = new Map(
		lines.map((line) => [line.slice(0, line.indexOf(":")).toLowerCase(), line.slice(line.indexOf(":") + 1).trim()]),
	);
	const quoted = raw.slice(end + 4);
	if (headers.get("content-transfer-encoding") !== "quoted-printable") return { headers, body: quoted };
	const bytes = quoted
		.replace(/=\r\n/g, "")
		.replace(/=([0-9A-F]{2})/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)));
	return { headers, body: Buffer.from(bytes, "latin1").toString("utf8") };
}
