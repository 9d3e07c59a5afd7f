import type { AddressInfo } from "node:net";
import { pino } from "pino";
import { SMTPServer } from "smtp-server";
import { HeadMail } from "../../src/audit/head-mail/head-mail.js";
import { HeadMailLoop } from "../../src/audit/head-mail/loop.js";
import { Heads, headFrom } from "../../src/ledger/heads.js";
import { verifyLedger } from "../../src/ledger/verify.js";
import { EmailNotifier } from "../../src/messages/channels/email.js";
import { email } from "../../src/settings/channels/email.js";
import type { Store } from "../../src/store/store.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { Ids } from "../../src/time/ids.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { Written } from "../ledger/written.js";
import { newStore, onEachDatabase } from "../support/stores.js";
import { unguarded } from "../support/unguarded-ledger.js";

interface Mail {
	readonly to: string;
	readonly messageId: string;
	readonly body: string;
}

/** A real mail server on the loopback, which can be away and come back under the same port. */
class MailServer {
	readonly received: Mail[] = [];
	/** Addresses that it refuses for good. */
	readonly unknown = new Set<string>();
	private server: SMTPServer | undefined;
	port = 0;

	async come(): Promise<void> {
		const server = new SMTPServer({
			...{ authOptional: true, disabledCommands: ["STARTTLS"], logger: false },
			onRcptTo: ({ address }, _, done) =>
				this.unknown.has(address) ? done(Object.assign(new Error("no mailbox"), { responseCode: 550 })) : done(),
			onData: (stream, session, done) => {
				const parts: Buffer[] = [];
				stream.on("data", (part: Buffer) => parts.push(part));
				stream.on("end", () => {
					// Soft line ends of quoted-printable (RFC 2045, section 6.7) are taken out.
					const text = Buffer.concat(parts).toString("latin1").replace(/=\r\n/g, "").replace(/\r\n/g, "\n").replace(/=3D/g, "=");
					const [head = "", ...body] = text.split("\n\n");
					this.received.push({
						to: session.envelope.rcptTo.map(({ address }) => address).join(),
						messageId: /^message-id: (.*)$/im.exec(head)?.[1] ?? "",
						body: body.join("\n\n"),
					});
					done();
				});
			},
		});
		server.on("error", () => undefined);
		await new Promise<void>((resolve) => server.listen(this.port, "127.0.0.1", resolve));
		this.port = (server.server.address() as AddressInfo).port;
		this.server = server;
	}

	async go(): Promise<void> {
		await new Promise<void>((resolve) => (this.server ? this.server.close(() => resolve()) : resolve()));
		this.server = undefined;
	}
}

const OFFICE = "office@example.org";
const ARCHIVE = "archive@example.org";

onEachDatabase("heads of the ledger by mail", (kind) => {
	let store: Awaited<ReturnType<typeof newStore>>;
	let written: Written;
	let server: MailServer;
	let ends: (() => Promise<unknown>)[];

	beforeEach(async () => {
		store = await newStore(kind);
		written = new Written(store);
		server = new MailServer();
		await server.come();
		ends = [() => store.remove(), () => server.go()];
	});
	afterEach(async () => {
		for (const end of ends.reverse()) await end();
	});

	let schedulers = 0;
	function mailOf(on: Store, headTo: readonly string[] = [OFFICE, ARCHIVE]): HeadMail {
		const notifier = new EmailNotifier(
			email.parse({ host: "127.0.0.1", port: server.port, tls: "none", from: "jars@example.org", answerSeconds: 2 }),
		);
		ends.push(() => notifier.close());
		const randomness = new SeededRandomness(100 + ++schedulers);
		const ids = new Ids(written.clock, randomness);
		const heads = new Heads(on, written.clock, ids);
		const log = pino({ level: "silent" });
		return new HeadMail(
			{ store: on, clock: written.clock, ids, randomness, heads, email: notifier, log },
			{ headTo, headEveryDays: 7, publicUrl: "https://jars.example.org/", sendTimeoutMs: 5000, leaseMs: 60_000 },
		);
	}

	const anchors = () => store.query<{ position: number; hash: string; how: string }>("SELECT * FROM ledger_anchor ORDER BY id");
	const actions = async () =>
		(await store.query("SELECT action FROM ledger_entry WHERE subject_kind = 'ledger' ORDER BY id")).map(({ action }) => action);

	it("brings each address the head with its date and the command that checks it, and finds by it what was changed before", async () => {
		await written.units([3, 2, 0]);
		expect(await mailOf(store).post()).toBe(2);
		expect(server.received.map(({ to }) => to).sort()).toEqual([ARCHIVE, OFFICE]);
		const [{ body } = { body: "" }] = server.received;
		const head = /jarwatch ledger verify --anchor (\S+)$/m.exec(body)?.[1] ?? "";
		const [anchor] = await anchors();
		expect(anchor).toMatchObject({ how: "mailed", position: 5 });
		expect(headFrom(head)).toEqual({ position: 5, hash: anchor!.hash });
		expect(body).toContain("2026-01-01 00:00:02 UTC");
		expect(body).toContain("From https://jars.example.org/");
		expect(body).toContain("every 7 days");
		expect(await verifyLedger(store, 1, [headFrom(head)])).toMatchObject({ findings: [], anchors: 2 });
		// The last link and what the database keeps of the head are taken away: only the letter still knows.
		await store.work.run(async (tx) => {
			await unguarded(tx);
			for (const table of ["head_letter", "ledger_anchor", "ledger_seal"]) await tx.query(`DELETE FROM ${table}`);
		});
		const { findings } = await verifyLedger(store, 1, [headFrom(head)]);
		expect(findings.map(({ kind: what }) => what)).toContain("removed");
	});

	it("goes again after 7 days and not before, with a head of then", async () => {
		await written.units([3, 0]);
		const mail = mailOf(store);
		await mail.post();
		written.clock.advance(7 * DAY_MS - 1000);
		expect(await mail.post()).toBe(0);
		await written.units([1, 0]);
		expect(await mail.post()).toBe(2);
		// Three, the head given out and two letters, and one more.
		expect((await anchors()).map(({ position }) => position)).toEqual([3, 7]);
		expect(await actions()).toEqual([
			"head given out",
			...Array(2).fill("head mailed"),
			"head given out",
			...Array(2).fill("head mailed"),
		]);
	});

	it("goes once to each address where two schedulers look at once", async () => {
		await written.units([3, 0]);
		const other = kind === "postgres" ? await store.again() : store;
		if (other !== store) ends.push(() => other.close());
		const mails = [mailOf(store), mailOf(other)];
		for (let round = 0; round < 3; round++) await Promise.all(mails.map((mail) => mail.post()));
		expect(server.received.map(({ to }) => to).sort()).toEqual([ARCHIVE, OFFICE]);
		expect(await anchors()).toHaveLength(1);
	});

	it("waits while the mail server is away, and brings the same head once it is back, under one message id", async () => {
		await written.units([3, 0]);
		const mail = mailOf(store, [OFFICE]);
		await server.go();
		expect(await mail.post()).toBe(0);
		expect(await mail.post()).toBe(0);
		expect(await store.query("SELECT state, tries FROM head_letter")).toEqual([{ state: "waiting", tries: 1 }]);
		written.clock.advance(HOUR_MS);
		expect(await mail.post()).toBe(0);
		await written.units([4, 0]);
		await server.come();
		written.clock.advance(HOUR_MS);
		expect(await mail.post()).toBe(1);
		expect(await store.query("SELECT state, tries FROM head_letter")).toEqual([{ state: "sent", tries: 3 }]);
		expect(server.received).toMatchObject([{ to: OFFICE, messageId: expect.stringMatching(/^<[0-9a-f]{32}@example\.org>$/) }]);
		expect((await anchors()).map(({ position }) => position)).toEqual([3]);
		expect(server.received[0]?.body).toContain("--anchor 3-");
	});

	it("gives up an address that the server refuses for good, says so in the ledger, and reaches the other", async () => {
		await written.units([3, 0]);
		server.unknown.add(ARCHIVE);
		const mail = mailOf(store);
		expect(await mail.post()).toBe(1);
		written.clock.advance(DAY_MS);
		expect(await mail.post()).toBe(0);
		expect(await actions()).toEqual(expect.arrayContaining(["head mailed", "head not mailed"]));
		const kept = JSON.stringify(await store.query("SELECT * FROM ledger_entry"));
		expect(kept).not.toContain("example.org");
	});

	it("waits for the first sealed entry, and gives nothing out where no address is set", async () => {
		await written.units([2]);
		expect(await mailOf(store).post()).toBe(0);
		await written.units([0]);
		expect(await mailOf(store, []).post()).toBe(0);
		expect(await anchors()).toEqual([]);
		expect(await mailOf(store).post()).toBe(2);
	});

	it("is seen to by a loop that waits for the letter at work before it stops", async () => {
		await written.units([2, 0]);
		const loop = new HeadMailLoop(mailOf(store, [OFFICE]), 5, pino({ level: "silent" }));
		const taken = new Promise<void>((resolve) => {
			server.received.push = (...mails: Mail[]) => {
				resolve();
				return Array.prototype.push.apply(server.received, mails);
			};
		});
		loop.start();
		await taken;
		await loop.stop();
		expect(await store.query("SELECT state FROM head_letter")).toEqual([{ state: "sent" }]);
		expect(await store.query("SELECT DISTINCT origin FROM ledger_entry WHERE action = 'head mailed'")).toEqual([
			{ origin: "head mail" },
		]);
	});
});
