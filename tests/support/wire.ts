import { type AddressInfo, connect, createServer, type Socket } from "node:net";

/** A line between a browser and the service that can be cut, and that counts what goes over it. */
export interface Wire {
	readonly address: string;
	/** Bytes that came to the browser since it was last asked, with all header fields. */
	receivedBytes(): number;
	cut(): void;
	mend(): void;
	close(): Promise<void>;
}

/** @param to address of the service, http://127.0.0.1:PORT */
export async function wireTo(to: string): Promise<Wire> {
	const port = Number(new URL(to).port);
	const sockets = new Set<Socket>();
	let bytes = 0;
	let isCut = false;
	const server = createServer((near) => {
		if (isCut) return void near.destroy();
		const far = connect(port, "127.0.0.1");
		for (const [one, other] of [
			[near, far],
			[far, near],
		] as const) {
			sockets.add(one);
			one.on("error", () => other.destroy());
			one.on("close", () => {
				sockets.delete(one);
				other.destroy();
			});
			one.pipe(other);
		}
		far.on("data", (data) => {
			bytes += data.length;
		});
	});
	await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
	return {
		// By this name Chromium trusts a page as it trusts one that came encrypted.
		address: `http://localhost:${(server.address() as AddressInfo).port}`,
		receivedBytes() {
			const received = bytes;
			bytes = 0;
			return received;
		},
		cut() {
			isCut = true;
			for (const socket of sockets) socket.destroy();
		},
		mend() {
			isCut = false;
		},
		close() {
			for (const socket of sockets) socket.destroy();
			return new Promise((resolve) => server.close(() => resolve()));
		},
	};
}
