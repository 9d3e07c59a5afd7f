import { spawn } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:https";
import type { AddressInfo, Server } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { text } from "node:stream/consumers";
import { SMTPServer } from "smtp-server";
import { type Identity, inventedAuthority } from "../../support/invented-authority.js";
import { smppPeer } from "../../support/smpp-peer.js";

/** For now, and with what was wrong, by each of the four; what is thrown counts as refused for now. */
const refusedBecause = (code: string) => [
	{ kind: "thrown", message: "fetch failed", code },
	{ kind: "refused", reason: `the message centre can't be reached (${code})`, forGood: false },
	...["start", "whole"].map(() => ({ kind: "refused", reason: `the mail server can't be reached (${code})`, forGood: false })),
];

/** A gateway, a message centre and two mail servers that speak TLS alone, and the settings for each. */
async function servers({ key, cert }: Identity) {
	const received: string[] = [];
	const gateway = createServer({ key, cert }, (request, response) => {
		received.push("gateway");
		request.resume().once("end", () => response.end('{"id": "g-17"}'));
	});
	const mail = (how: "start" | "whole") =>
		new SMTPServer({
			key,
			cert,
			secure: how === "whole",
			authOptional: true,
			logger: false,
			onMailFrom: (_, session, done) =>
				done(session.secure ? undefined : Object.assign(new Error("in the clear"), { responseCode: 530 })),
			onData(stream, _, done) {
				received.push(`mail, ${how}`);
				stream.resume().once("end", () => done());
			},
		}).on("error", () => undefined);
	const centre = await smppPeer({ submit: () => ({ message_id: `id${received.push("centre")}` }) }, { key, cert });
	const mails = { start: mail("start"), whole: mail("whole") };
	const portOf = async (server: Pick<Server, "listen" | "address">) => {
		await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
		return (server.address() as AddressInfo).port;
	};
	const port = await portOf(gateway);
	await new Promise<void>((resolve) => mails.start.listen(0, "127.0.0.1", resolve));
	await new Promise<void>((resolve) => mails.whole.listen(0, "127.0.0.1", resolve));
	const byMail = (how: "start" | "whole") => ({
		email: {
			host: "localhost",
			port: (mails[how].server.address() as AddressInfo).port,
			tls: how,
			from: "jars@example.org",
			answerSeconds: 5,
		},
	});
	const settings = [
		{
			"sms-gateway": {
				url: `https://localhost:${port}/`,
				send: { as: "json", template: { to: "{to}", text: "{text}" } },
				answer: { id: "/id" },
			},
		},
		{
			smpp: {
				host: "localhost",
				port: centre.port,
				tls: true,
				systemId: "jars",
				password: "invented",
				source: "Jars",
				answerSeconds: 5,
			},
		},
		byMail("start"),
		byMail("whole"),
	].map((channels) => ({
		JARWATCH_NOTIFIERS: Object.keys(channels)[0] as string,
		JARWATCH_CHANNELS: JSON.stringify(channels),
		// The gateway's name leads to this machine.
		JARWATCH_PRIVATE_ADDRESSES: "127.0.0.0/8",
	}));
	const close = async () => {
		gateway.closeAllConnections();
		gateway.close();
		await centre.close();
		await Promise.all([mails.start, mails.whole].map((each) => new Promise<void>((resolve) => each.close(resolve))));
	};
	return { received, settings, close };
}

describe("channels over TLS", () => {
	const folder = mkdtempSync(join(tmpdir(), "jarwatch-tls-"));
	const authorityPath = join(folder, "authority.pem");
	let rightly: Awaited<ReturnType<typeof servers>>;
	let wrongly: Awaited<ReturnType<typeof servers>>;

	beforeAll(async () => {
		const authority = await inventedAuthority();
		writeFileSync(authorityPath, authority.cert);
		rightly = await servers(await authority.identity({ type: "dns", value: "localhost" }));
		wrongly = await servers(await authority.identity({ type: "dns", value: "other.example.org" }));
	});
	afterAll(async () => {
		await rightly.close();
		await wrongly.close();
		rmSync(folder, { recursive: true });
	});

	async function sent(settings: readonly object[], environment: Readonly<Record<string, string>>): Promise<unknown[]> {
		const child = spawn(process.execPath, [join(__dirname, "sends-by-settings.cjs")], {
			env: { PATH: process.env["PATH"], ...environment },
			stdio: ["pipe", "pipe", "inherit"],
		});
		child.stdin.end(JSON.stringify(settings));
		return JSON.parse(await text(child.stdout));
	}

	it("send by HTTPS, SMPP, and SMTP with TLS from the start or after the greeting, where NODE_EXTRA_CA_CERTS names who vouches for the server, but to none that bears another's name", async () => {
		const answers = await sent([...rightly.settings, ...wrongly.settings], { NODE_EXTRA_CA_CERTS: authorityPath });
		expect(answers.slice(0, 4)).toEqual([
			{ kind: "accepted", answer: "HTTP 200, id g-17", channelMessageIds: ["g-17"] },
			{ kind: "accepted", answer: "id id2", channelMessageIds: ["id2"] },
			expect.objectContaining({ kind: "accepted" }),
			expect.objectContaining({ kind: "accepted" }),
		]);
		expect(rightly.received.splice(0)).toEqual(["gateway", "centre", "mail, start", "mail, whole"]);
		expect(answers.slice(4)).toEqual(refusedBecause("ERR_TLS_CERT_ALTNAME_INVALID"));
		expect(wrongly.received).toEqual([]);
	}, 60_000);

	it("send nothing, and try again later, where nobody they know vouches for the server", async () => {
		const answers = await sent(rightly.settings, {});
		expect(answers).toEqual(refusedBecause("UNABLE_TO_VERIFY_LEAF_SIGNATURE"));
		expect(rightly.received).toEqual([]);
	}, 60_000);
});
