import { isRule } from "../../src/access/rules.js";
import { askedOf } from "../access/asked-of.js";
import { namesOf, threeParts } from "../access/parts.js";
import { served } from "../api/served.js";

/** Routes that answer well and change nothing that is the programme's, each with why. */
const CHANGES_NOTHING: Readonly<Record<string, string>> = {
	"POST /messages/preview": "a text is only shown",
	"POST /protocols/check": "a protocol is only looked at",
	"POST /messages/replay-failed": "nothing has failed here, and so nothing is sent again",
	"POST /messages/release-withheld": "nothing is withheld here",
	"PUT /programme": "the sample asks for the rules as they are",
	"PUT /areas/:code/holidays": "the sample asks for the list as it is",
	"POST /people/:code/return": "nobody was away",
	"POST /people/:code/sessions/end": "nobody is signed in",
	"PUT /households/:code/assignment": "the sample asks for who it is already",
	"POST /areas/:code/assignment": "the sample asks for who it is already",
	"POST /protocols/:code/:version/default": "it is the default already",
	"POST /protocols/:code/:version/households": "the households follow it already",
};

describe("a route that changes something", () => {
	it("leaves an entry in the ledger that says who, when, what and from which request, for each route of the running service", async () => {
		const api = await served("sqlite");
		try {
			await threeParts(api.world.store);
			const names = namesOf("near");
			const silent: string[] = [];
			const changed: string[] = [];
			for (const route of api.routes.known) {
				if (!isRule(route.access) || !["POST", "PUT"].includes(route.method)) continue;
				const { key, url, asked } = askedOf(route, names);
				const before = await entries();
				const answer = await api.ask(route.method as "POST", url, asked);
				if (answer.status >= 300) continue;
				const added = (await entries()).filter(({ id }) => !before.some((known) => known.id === id));
				const own = added.filter(({ origin }) => origin === `${key}, request ${answer.headers["x-request-id"]}`);
				for (const { actor, action, atMs } of own)
					expect([actor, action, atMs > 0]).toEqual([expect.any(String), expect.any(String), true]);
				if (own.length > 0) changed.push(key);
				else if (!(key in CHANGES_NOTHING)) silent.push(key);
			}
			expect(silent).toEqual([]);
			// Of the routes that take a change, so many were brought as far as making one.
			expect(changed.length).toBeGreaterThanOrEqual(30);

			function entries() {
				return api.world.store.query<{ id: string; origin: string; actor: string; action: string; atMs: number }>(
					"SELECT id, origin, actor, action, at_ms FROM ledger_entry",
				);
			}
		} finally {
			await api.close();
		}
	}, 120_000);
});
