import { type Answer, type Asked, GATEWAY_SECRET, KEY, type Served, served } from "../api/served.js";
import type { DatabaseKind } from "../support/stores.js";

export const PASSWORD = "five jars in the shade";

/** The service with a key, an area, the supervisor `sup` and the volunteer `vol`; and browsers that keep their cookies. */
export async function accessible(kind: DatabaseKind, more: Parameters<typeof served>[2] = {}) {
	const api = await served(kind, { apiKey: KEY, inboundSecret: GATEWAY_SECRET }, more);
	return Object.assign(api, {
		browser: (from = "127.0.0.1") => new Browser(api, from),
		/** Codes and links that were sent, the newest first. */
		async sent(text: string): Promise<Record<string, string>[]> {
			const all = await api.world.messages();
			return all
				.filter((one) => one.text === text)
				.map(({ fill }) => JSON.parse(fill) as Record<string, string>)
				.toReversed();
		},
		/** An account whose holder has chosen the password. */
		async account(login: string, personCode: string | null, isAdministrator = false): Promise<string> {
			const made = await api.ask("POST", "/accounts", { body: { login, personCode, isAdministrator } });
			const code = made.body.code ?? (await this.sent("signIn.password"))[0]!["way"];
			expect((await api.ask("POST", "/password", { body: { code, password: PASSWORD } })).status).toBe(200);
			return made.body.id as string;
		},
	});
}

export type Accessible = Awaited<ReturnType<typeof accessible>>;

/** Keeps cookies as a browser does, and says where its requests come from. */
export class Browser {
	readonly cookies = new Map<string, string>();

	constructor(
		private readonly api: Served,
		private readonly from: string,
	) {}

	async ask(method: "GET" | "POST" | "PUT", url: string, asked: Asked = {}): Promise<Answer> {
		const cookie = [...this.cookies].map(([name, value]) => `${name}=${value}`).join("; ");
		const headers = { authorization: "", "sec-fetch-site": "same-origin", ...(cookie && { cookie }), ...asked.headers };
		const answer = await this.api.ask(method, url, { ...asked, from: this.from, headers });
		for (const line of [answer.headers["set-cookie"] ?? []].flat() as string[]) {
			const [pair = ""] = line.split(";");
			const [name = "", value = ""] = pair.split("=", 2);
			if (/Max-Age=0\b/.test(line)) this.cookies.delete(name);
			else this.cookies.set(name, value);
		}
		return answer;
	}

	signIn(login: string, password = PASSWORD, code?: string): Promise<Answer> {
		return this.ask("POST", "/sessions", { body: { login, password, ...(code && { code }) } });
	}
}
