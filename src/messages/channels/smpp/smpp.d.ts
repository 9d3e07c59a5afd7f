declare module "smpp" {
	import type { EventEmitter } from "node:events";
	import type { Server as NetServer, Socket } from "node:net";

	/** What the package gives of a PDU: the fields of the command, and those of optional parameters by name. */
	export interface Pdu {
		readonly command: string;
		readonly command_status: number;
		readonly sequence_number: number;
		isResponse(): boolean;
		response(fields?: Readonly<Record<string, unknown>>): Pdu;
		readonly [field: string]: unknown;
	}

	export interface Session extends EventEmitter {
		readonly socket: Socket;
		/** @returns false, and never calls back, where the socket can't be written to any more */
		send(pdu: Pdu, answered?: (pdu: Pdu) => void): boolean;
		close(closed?: () => void): void;
		destroy(closed?: () => void): void;
	}

	export interface Server extends NetServer {
		readonly sessions: Session[];
	}

	const smpp: {
		connect(options: { host: string; port: number; tls?: boolean }): Session;
		createServer(options: { key?: string; cert?: string }, session: (session: Session) => void): Server;
		PDU: new (command: string, fields?: Readonly<Record<string, unknown>>) => Pdu;
	};
	export default smpp;
}
