import type { AddressInfo } from "node:net";
import { SMTPServer } from "smtp-server";

/** A real SMTP server on the loopback that takes every mail and keeps its Message-ID by its recipient. */
export async function smtpPeer() {
	const taken = new Map<string, string[]>();
	const server = new SMTPServer({
		authOptional: true,
		disabledCommands: ["STARTTLS"],
		logger: false,
		onData(stream, session, done) {
			const parts: Buffer[] = [];
			stream.on("data", (part: Buffer) => parts.push(part));
			stream.on("end", () => {
				const id = /^Message-ID: (.*)$/im.exec(Buffer.concat(parts).toString("latin1"))?.[1]?.trim() ?? "none";
				for (const { address } of session.envelope.rcptTo) taken.set(address, [...(taken.get(address) ?? []), id]);
				done();
			});
		},
	});
	server.on("error", () => undefined);
	await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
	return {
		port: (server.server.address() as AddressInfo).port,
		taken: () => taken,
		close: () => new Promise<void>((resolve) => server.close(() => resolve())),
	};
}
