import { createServer, type Server } from "node:http";
import type { AddressInfo } from "node:net";

/** A real HTTP server on loopback that takes webhooks and counts which key came how often. */
export class CountingPeer {
	private server: Server | undefined;
	/** Keys in the order in which they came. */
	readonly keys: string[] = [];
	/** Those that came once under one idempotency key, and then under another. */
	readonly changedKeys: string[] = [];
	private readonly keyOf = new Map<string, string>();
	/** When each of them came, epoch milliseconds. */
	readonly cameAtMs: number[] = [];
	private readonly waiting: { readonly count: number; readonly resolve: () => void }[] = [];

	/** @param answersAfterMs how long it keeps a sender waiting */
	constructor(private readonly answersAfterMs = 0) {}

	/** Resolves when it has taken so many in all. */
	received(count: number): Promise<void> {
		return new Promise((resolve) => {
			if (this.keys.length >= count) resolve();
			else this.waiting.push({ count, resolve });
		});
	}

	async start(): Promise<string> {
		this.server = createServer((request, response) => {
			const body: Buffer[] = [];
			request.on("data", (part: Buffer) => body.push(part));
			request.once("end", () => {
				this.came(String(request.headers["webhook-id"]), Buffer.concat(body).toString());
				for (const { count, resolve } of this.waiting) if (this.keys.length >= count) resolve();
				const answer = () => response.writeHead(204).end();
				if (this.answersAfterMs > 0) setTimeout(answer, this.answersAfterMs);
				else answer();
			});
		});
		await new Promise<void>((resolve) => this.server?.listen(0, "127.0.0.1", resolve));
		return `http://127.0.0.1:${(this.server.address() as AddressInfo).port}/`;
	}

	async stop(): Promise<void> {
		this.server?.closeAllConnections();
		await new Promise((resolve) => this.server?.close(resolve));
	}

	private came(id: string, body: string): void {
		this.keys.push(id);
		this.cameAtMs.push(Date.now());
		const { idempotencyKey } = (JSON.parse(body) as { data: { idempotencyKey: string } }).data;
		const known = this.keyOf.get(id);
		if (known === undefined) this.keyOf.set(id, idempotencyKey);
		else if (known !== idempotencyKey) this.changedKeys.push(id);
	}

	counts(): Map<string, number> {
		const counts = new Map<string, number>();
		for (const key of this.keys) counts.set(key, (counts.get(key) ?? 0) + 1);
		return counts;
	}
}
