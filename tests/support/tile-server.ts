import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import type { MapTiles } from "../../src/settings/map-tiles.js";

/** A machine on loopback that gives pictures of the ground, each with its own number on it. */
export interface TileServer {
	readonly tiles: MapTiles;
	/** Paths that were asked for, in their order. */
	readonly asked: readonly string[];
	/** From now on it has none. */
	fail(): void;
	close(): Promise<void>;
}

export async function tileServer(): Promise<TileServer> {
	const asked: string[] = [];
	let hasAny = true;
	const server = createServer(({ url = "", headers }, answer) => {
		asked.push(headers.referer ? `${url} from ${headers.referer}` : url);
		const [, z, x, y] = /^\/t\/(\d+)\/(\d+)\/(\d+)\.svg$/.exec(url) ?? [];
		if (!hasAny || z === undefined) return void answer.writeHead(404).end();
		answer.writeHead(200, { "content-type": "image/svg+xml" }).end(tilePicture(`${z}/${x}/${y}`));
	});
	await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
	const origin = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
	return {
		tiles: { template: `${origin}/t/{z}/{x}/{y}.svg`, origin, attribution: "Invented ground, made for a test" },
		asked,
		fail() {
			hasAny = false;
		},
		close() {
			server.closeAllConnections();
			return new Promise((resolve) => server.close(() => resolve()));
		},
	};
}

const tilePicture = (name: string) =>
	`<svg xmlns="http://www.w3.org/2000/svg" width="256" height="256"><rect width="256" height="256" fill="#cfe3c4" stroke="#5b7d4a" stroke-width="4"/>` +
	`<path d="M0 60q60 40 128 0t128 0" fill="none" stroke="#7aa7d6" stroke-width="8"/><text x="12" y="240" font-size="20">${name}</text></svg>`;
