import { type LookupAddress, type LookupAllOptions, lookup as systemLookup } from "node:dns";
import { isIP } from "node:net";
import type { Agent, buildConnector } from "undici";
import { InputError } from "../../errors/errors.js";
import type { PrivateAddresses } from "../../settings/private-addresses.js";
import { isPrivate, isWithin, rangesOf } from "./private-ranges.js";

/** Asks for all addresses of a name. */
export type Lookup = (
	hostname: string,
	options: LookupAllOptions,
	done: (error: NodeJS.ErrnoException | null, addresses: LookupAddress[]) => void,
) => void;

/**
 * Requests to addresses that somebody has set up. One that leads into a private network isn't connected to unless the settings
 * allow it: it would let whoever can write the address reach what only this machine can. What is looked at is the very address that the
 * connection is made to, so that a name which leads elsewhere the second time it is asked for gains nothing. Redirects aren't followed.
 */
export class Outward {
	private readonly lookup: ReturnType<Outward["checked"]>;
	private agent: Promise<Agent> | undefined;
	private readonly hosts: ReadonlySet<string>;
	private readonly ranges;

	/**
	 * @param rule allowed, refused, or the hosts and ranges of private networks that may be called
	 * @param lookup left out: the system's own
	 */
	constructor(
		private readonly rule: PrivateAddresses = "refused",
		lookup: Lookup = systemLookup,
	) {
		const named = typeof rule === "string" ? [] : rule;
		this.hosts = new Set(named.filter((part) => isIP(part.split("/")[0] ?? "") === 0));
		this.ranges = rangesOf(named.filter((part) => !this.hosts.has(part)));
		this.lookup = this.checked(lookup);
	}

	/** @returns the answer, a redirect as it is; throws what made the connection fail */
	async fetch(url: URL | string, request: RequestInit): Promise<Response> {
		const { fetch } = await client();
		this.agent ??= this.newAgent();
		const own = { ...request, redirect: "manual", dispatcher: await this.agent } as never;
		return (await fetch(url, own)) as unknown as Response;
	}

	/** @throws InputError `notifier-refused` where the address itself, without asking anybody, leads into a private network */
	assertMayBeCalled(url: URL, setting: string): void {
		const host = url.hostname.replace(/^\[|\]$/g, "");
		const isHere = /(^|\.)localhost\.?$/.test(host);
		if (isIP(host) === 0 ? isHere && !this.mayCall(host, "127.0.0.1") : !this.mayCall(host, host))
			throw new InputError(
				"notifier-refused",
				`${setting} leads into a private network. Give a public address, or name the host or its range in JARWATCH_PRIVATE_ADDRESSES.`,
			);
	}

	async close(): Promise<void> {
		await (await this.agent)?.destroy();
	}

	private async newAgent(): Promise<Agent> {
		const { Agent, buildConnector } = await client();
		const connect = buildConnector({ lookup: this.lookup as never });
		return new Agent({
			connect: (options: buildConnector.Options, done: buildConnector.Callback) => {
				// The address of a URL may be an IP address already, for which no name is looked up.
				const host = options.hostname.replace(/^\[|\]$/g, "");
				if (isIP(host) !== 0 && !this.mayCall(host, host)) return done(refusal(), null);
				connect(options, done);
			},
		});
	}

	private mayCall(host: string, address: string): boolean {
		if (this.rule === "allowed" || !isPrivate(address)) return true;
		return this.hosts.has(host.toLowerCase()) || isWithin(this.ranges, address);
	}

	private checked(lookup: Lookup) {
		return (
			hostname: string,
			options: LookupAllOptions & { all?: boolean },
			done: (error: Error | null, address?: string | LookupAddress[], family?: number) => void,
		) => {
			lookup(hostname, { ...options, all: true }, (error, addresses) => {
				if (error) return done(error);
				const permitted = addresses.filter(({ address }) => this.mayCall(hostname, address));
				const [first] = permitted;
				if (!first) return done(refusal());
				if (options.all) done(null, permitted);
				else done(null, first.address, first.family);
			});
		};
	}
}

/** The host isn't named: its address could hold a key. */
function refusal(): InputError {
	return new InputError(
		"notifier-refused",
		"The address leads into a private network, which JARWATCH_PRIVATE_ADDRESSES doesn't allow.",
	);
}

/** Read at the first request: a start needn't wait for it. */
const client = () => import("undici");
