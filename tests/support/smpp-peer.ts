import type { AddressInfo } from "node:net";
import smpp, { type Pdu, type Session } from "smpp";

type Reply = Readonly<Record<string, unknown>> | undefined;

/** What the message centre does; each may be changed while it runs. */
export interface Behaviour {
	/** Fields of bind_transceiver_resp; undefined: silence. */
	bind: (pdu: Pdu) => Reply;
	/** Fields of submit_sm_resp; undefined: silence. */
	submit: (pdu: Pdu, session: Session) => Reply | Promise<Reply>;
	enquire: () => boolean;
}

/** A real SMPP server on the loopback; @param tls left out: without TLS */
export async function smppPeer(over: Partial<Behaviour> = {}, tls: { key?: string; cert?: string } = {}) {
	let ids = 0;
	const behaviour: Behaviour = {
		bind: () => ({ system_id: "centre" }),
		submit: () => ({ message_id: `id${++ids}` }),
		enquire: () => true,
		...over,
	};
	const received: Pdu[] = [];
	const submitted: Pdu[] = [];
	let bound: Session | undefined;
	const watchers = new Set<() => void>();
	const server = smpp.createServer(tls, (session) => {
		session.on("error", () => undefined);
		session.on("pdu", (pdu: Pdu) => {
			received.push(pdu);
			void answer(session, pdu).then(() => {
				for (const look of [...watchers]) look();
			});
		});
		session.on("close", () => {
			if (bound === session) bound = undefined;
			for (const look of [...watchers]) look();
		});
	});
	async function answer(session: Session, pdu: Pdu): Promise<void> {
		if (pdu.isResponse()) return;
		let fields: Reply = {};
		if (pdu.command === "bind_transceiver") {
			fields = behaviour.bind(pdu);
			if (fields && !fields["command_status"]) bound = session;
		} else if (pdu.command === "submit_sm") {
			submitted.push(pdu);
			fields = await behaviour.submit(pdu, session);
		} else if (pdu.command === "enquire_link" && !behaviour.enquire()) fields = undefined;
		if (fields) session.send(pdu.response(fields));
	}
	await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
	return {
		behaviour,
		received,
		submitted,
		port: (server.address() as AddressInfo).port,
		/** Resolves as soon as it is so. */
		async until(isSo: () => boolean): Promise<void> {
			if (isSo()) return;
			await new Promise<void>((resolve) => {
				const look = () => {
					if (!isSo()) return;
					watchers.delete(look);
					resolve();
				};
				watchers.add(look);
			});
		},
		isBound: () => bound !== undefined,
		/** Hands something in, as the centre does. @returns the status of the answer */
		async deliver(fields: Readonly<Record<string, unknown>>): Promise<number> {
			const answered = await new Promise<Pdu>((resolve) => void bound?.send(new smpp.PDU("deliver_sm", fields), resolve));
			return answered.command_status;
		},
		/** Cuts every link without a word. */
		cut() {
			for (const session of [...server.sessions]) session.destroy();
		},
		async close() {
			for (const session of [...server.sessions]) session.destroy();
			await new Promise((resolve) => server.close(resolve));
		},
	};
}

export type SmppPeer = Awaited<ReturnType<typeof smppPeer>>;
