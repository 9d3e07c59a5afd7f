import { type AddressInfo, connect, createServer, type Socket } from "node:net";

/** What may be wrong with a line. */
export const FAULTS = ["delay", "half-open", "answers lost", "cut", "slow", "refuse"] as const;
export type Fault = (typeof FAULTS)[number];

/** A TCP line between the service and a peer whose faults may be switched while it carries. */
export interface FaultyLine {
	readonly port: number;
	/**
	 * - none: it carries. What an earlier fault has made deaf stays so: only a new connection helps.
	 * - delay: each piece comes later, both ways.
	 * - half-open: nothing goes through either way, and nobody is told; new connections are taken and stay silent.
	 * - answers lost: what is asked goes through, and nothing comes back.
	 * - cut: every connection is reset, and every new one as soon as it is made.
	 * - slow: a few bytes at a time.
	 * - refuse: every connection is reset, and nobody listens.
	 */
	be(fault: Fault | "none"): Promise<void>;
	/** Bytes that came from the peer's side since it was last asked. */
	receivedBytes(): number;
	/** To what is carried back next and is of this kind, something is added, in one piece; then that connection ends. */
	addOnce(to: (carried: Buffer) => boolean, last: Buffer): void;
	close(): Promise<void>;
}

export interface LineOptions {
	readonly host?: string;
	readonly delayMs?: number;
	/** Of a slow line. */
	readonly bytesPerSecond?: number;
}

interface Pair {
	readonly near: Socket;
	/** None: on a dead line nobody was called. */
	readonly far?: Socket;
	isDeaf: "both ways" | "to answers" | undefined;
}

/** A slow line carries a piece so many times a second. */
const PIECES_A_SECOND = 20;

/** @param to port of the peer on the loopback */
export async function faultyLine(to: number, options: LineOptions = {}): Promise<FaultyLine> {
	const { host = "127.0.0.1", delayMs = 150, bytesPerSecond = 4_000 } = options;
	const pairs = new Set<Pair>();
	const pieceBytes = Math.max(1, Math.round(bytesPerSecond / PIECES_A_SECOND));
	let fault: Fault | "none" = "none";
	let bytes = 0;
	let added: { readonly to: (carried: Buffer) => boolean; readonly last: Buffer } | undefined;

	const carry = (from: Socket, into: Socket, isDeaf: () => boolean, isBack = false) => {
		const passed = async (data: Buffer) => {
			if (isBack && added?.to(data)) {
				const { last } = added;
				added = undefined;
				return void into.write(Buffer.concat([data, last]), () => from.destroy());
			}
			if (fault === "delay") await wait(delayMs);
			for (let at = 0; at < data.length && !isDeaf() && !into.destroyed; ) {
				const until = fault === "slow" ? at + pieceBytes : data.length;
				into.write(data.subarray(at, until));
				at = until;
				if (fault === "slow") await wait(1000 / PIECES_A_SECOND);
			}
		};
		from.on("data", (data) => {
			from.pause();
			void passed(data).then(() => from.resume());
		});
	};

	const server = createServer((near) => {
		if (fault === "cut") return void near.resetAndDestroy();
		if (fault === "half-open") {
			pairs.add({ near: near.on("error", () => undefined).resume(), isDeaf: "both ways" });
			return;
		}
		const far = connect(to, host);
		const pair: Pair = { near, far, isDeaf: fault === "answers lost" ? "to answers" : undefined };
		pairs.add(pair);
		far.on("data", (data) => {
			bytes += data.length;
		});
		carry(near, far, () => pair.isDeaf === "both ways");
		carry(far, near, () => pair.isDeaf !== undefined, true);
		for (const [one, other] of [
			[near, far],
			[far, near],
		] as const) {
			one.on("error", () => undefined);
			// On a dead line nobody learns that the other side has gone.
			one.on("end", () => pair.isDeaf || other.end());
			one.on("close", () => {
				if (pair.isDeaf) return;
				pairs.delete(pair);
				other.destroy();
			});
		}
	});
	const listen = (port: number) => new Promise<void>((resolve) => server.listen(port, "127.0.0.1", resolve));
	await listen(0);
	const { port } = server.address() as AddressInfo;

	const reset = () => {
		for (const { near, far } of pairs) {
			near.resetAndDestroy();
			far?.resetAndDestroy();
		}
		pairs.clear();
	};
	return {
		port,
		async be(next) {
			fault = next;
			if (next === "cut" || next === "refuse") reset();
			for (const pair of pairs) {
				if (next === "half-open") pair.isDeaf = "both ways";
				else if (next === "answers lost") pair.isDeaf ??= "to answers";
			}
			if (next === "refuse") server.close();
			else if (!server.listening) await listen(port);
		},
		receivedBytes() {
			const received = bytes;
			bytes = 0;
			return received;
		},
		addOnce(to, last) {
			added = { to, last };
		},
		close() {
			reset();
			return new Promise((resolve) => server.close(() => resolve()));
		},
	};
}

const wait = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
