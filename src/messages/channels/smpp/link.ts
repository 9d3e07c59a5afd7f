import smpp, { type Pdu, type Session } from "smpp";
import { TransientError } from "../../../errors/errors.js";
import type { Log } from "../../../log/log.js";
import type { SmppSettings } from "../../../settings/channels/smpp.js";
import type { Randomness } from "../../../time/randomness.js";
import { AGAIN_LATER, isNoWayIn, ROK, UNKNOWN_COMMAND } from "./statuses.js";
import { Waiting } from "./waiting.js";

/** What the link tells of. */
export interface LinkParts {
	readonly settings: SmppSettings;
	readonly log: Log;
	readonly randomness: Randomness;
	/** Takes a deliver_sm. A rejected promise has the centre hand it in again. */
	readonly deliver: (pdu: Pdu) => Promise<void>;
}

const NO_LINK = "there is no link to the message centre";

/** Two questions without an answer, and the link counts as lost. */
const MOST_MISSES = 2;

/**
 * A link to a message centre that is made again whenever it is lost, after waits that grow.
 * The package never calls back once a peer is gone, so every question has a time-out of its own here.
 */
export class SmppLink {
	private session: Session | undefined;
	/** The one that is asked at the moment whether it is there. */
	private doubted: Session | undefined;
	private running: Promise<void> | undefined;
	private isClosing = false;
	private readonly waiting = new Waiting();
	/** Tries to make the link that failed since it stood last. */
	private failures = 0;
	private isResting = false;
	/** Ends the rest before the next try. */
	private endRest: () => void = () => undefined;
	/** Those who wait for the link to stand, or to fail. */
	private readonly standing = new Set<(error?: Error) => void>();

	constructor(private readonly parts: LinkParts) {}

	/** Begins to make the link, and keeps it until it is closed. */
	open(): void {
		if (!this.isClosing) this.running ??= this.keep();
	}

	/**
	 * Asks the centre and waits for its answer.
	 * @param late is told an answer that comes when it isn't waited for any more
	 * @throws TransientError where the link doesn't stand, is lost before the answer, or no answer comes in time
	 */
	async ask(command: string, fields: Readonly<Record<string, unknown>>, late?: (answer: Pdu) => void): Promise<Pdu> {
		if (this.isClosing) throw lost("the link is closed");
		this.open();
		const session = this.session ?? (await this.stood());
		try {
			return await this.waiting.answer(session, new smpp.PDU(command, fields), this.answerMs, late);
		} catch (error) {
			void this.leftIfGone(session);
			throw error;
		}
	}

	/** Says good-bye and closes. */
	async close(): Promise<void> {
		this.isClosing = true;
		this.endRest();
		const { session } = this;
		if (session) {
			await this.waiting.answer(session, new smpp.PDU("unbind"), this.answerMs).catch(() => undefined);
			session.destroy();
		}
		await this.running;
	}

	/** A centre that owes an answer may be busy; where it doesn't even say that it is there, its line is dead, and a new one is made at once. */
	private async leftIfGone(session: Session): Promise<void> {
		if (this.doubted === session) return;
		this.doubted = session;
		try {
			await this.waiting.answer(session, new smpp.PDU("enquire_link"), this.answerMs);
		} catch {
			session.destroy();
		}
		this.doubted = undefined;
	}

	private get answerMs(): number {
		return this.parts.settings.answerSeconds * 1000;
	}

	private async stood(): Promise<Session> {
		// Whoever waits here keeps a slot from other channels: a link that is known to be down isn't waited for.
		if (this.isResting && this.failures > 0) throw lost(NO_LINK);
		await new Promise<void>((resolve, reject) => {
			const settle = (error?: Error) => {
				clearTimeout(timer);
				this.standing.delete(settle);
				if (error) reject(error);
				else resolve();
			};
			const timer = setTimeout(() => settle(lost(NO_LINK)), this.answerMs);
			this.standing.add(settle);
		});
		if (!this.session) throw lost("the link was lost at once");
		return this.session;
	}

	private async keep(): Promise<void> {
		const { reconnectSeconds, longestReconnectSeconds } = this.parts.settings;
		while (!this.isClosing) {
			const outcome = await this.once();
			if (this.isClosing) return;
			this.failures = outcome === "stood" ? 0 : this.failures + 1;
			const growing = Math.min(reconnectSeconds * 2 ** Math.max(0, this.failures - 1), longestReconnectSeconds);
			const seconds = outcome === "no way in" ? longestReconnectSeconds : growing;
			await this.rest(seconds * 1000 * (0.5 + this.parts.randomness.fraction() / 2));
		}
	}

	/** Makes the link once and stays until it is lost. */
	private async once(): Promise<"stood" | "failed" | "no way in"> {
		const { settings, log } = this.parts;
		const { host, port, tls, systemId, password, systemType } = settings;
		const session = smpp.connect({ host, port, tls });
		let why: unknown;
		const gone = new Promise<void>((resolve) => {
			session.on("close", resolve);
			// After a PDU that can't be read the package reads nothing any more: only a new link helps.
			session.on("error", ({ code }: { code?: unknown }) => {
				why = code;
				session.destroy();
			});
		});
		void gone.then(() => this.waiting.lost(session));
		this.answerRequests(session);
		try {
			if (!(await isConnected(session, tls, gone, this.answerMs)))
				throw lost(`the message centre can't be reached${typeof why === "string" ? ` (${why})` : ""}`);
			const bind = new smpp.PDU("bind_transceiver", {
				system_id: systemId,
				password,
				system_type: systemType,
				interface_version: 0x34,
			});
			const { command_status: status } = await this.waiting.answer(session, bind, this.answerMs);
			if (status !== ROK) {
				const text = "the message centre refuses to bind; until its settings are mended nothing is sent by it";
				if (isNoWayIn(status)) log.error({ channel: "smpp", status }, text);
				throw Object.assign(lost(`bind was refused with SMPP status 0x${status.toString(16)}`), { status });
			}
		} catch (error) {
			session.destroy();
			await gone;
			this.tell(error as Error);
			log.warn(
				{ channel: "smpp", why: (error as Error).message },
				"the link to the message centre could not be made; it is tried again",
			);
			return isNoWayIn((error as { status?: number }).status ?? 0) ? "no way in" : "failed";
		}
		this.session = session;
		log.info({ channel: "smpp" }, "the link to the message centre stands");
		this.tell();
		const enquiring = this.enquire(session);
		await gone;
		clearInterval(enquiring);
		this.session = undefined;
		if (!this.isClosing) log.warn({ channel: "smpp" }, "the link to the message centre was lost; it is made again");
		return "stood";
	}

	private tell(error?: Error): void {
		for (const settle of [...this.standing]) settle(error);
	}

	private enquire(session: Session): NodeJS.Timeout {
		let misses = 0;
		const timer = setInterval(() => {
			this.waiting.answer(session, new smpp.PDU("enquire_link"), this.answerMs).then(
				() => {
					misses = 0;
				},
				() => {
					if (++misses >= MOST_MISSES) session.destroy();
				},
			);
		}, this.parts.settings.enquireSeconds * 1000);
		return timer.unref();
	}

	private answerRequests(session: Session): void {
		session.on("pdu", (pdu: Pdu) => {
			if (pdu.isResponse()) return;
			if (pdu.command === "deliver_sm")
				this.parts.deliver(pdu).then(
					() => session.send(pdu.response({ message_id: "" })),
					(error: unknown) => {
						this.parts.log.error({ channel: "smpp", err: error }, "what came in could not be kept; the centre hands it in again");
						session.send(pdu.response({ command_status: AGAIN_LATER }));
					},
				);
			else if (pdu.command === "enquire_link") session.send(pdu.response());
			else if (pdu.command === "unbind") {
				session.send(pdu.response());
				session.close();
			} else if (pdu.command !== "generic_nack") session.send(pdu.response({ command_status: UNKNOWN_COMMAND }));
		});
	}

	private rest(ms: number): Promise<void> {
		this.isResting = true;
		return new Promise((resolve) => {
			const end = () => {
				clearTimeout(timer);
				this.isResting = false;
				resolve();
			};
			const timer = setTimeout(end, ms).unref();
			this.endRest = end;
		});
	}
}

async function isConnected(session: Session, tls: boolean, gone: Promise<void>, withinMs: number): Promise<boolean> {
	let timer: NodeJS.Timeout | undefined;
	const stands = new Promise<true>((resolve) => session.on(tls ? "secureConnect" : "connect", () => resolve(true)));
	const late = new Promise<undefined>((resolve) => {
		timer = setTimeout(resolve, withinMs, undefined);
	});
	const connected = await Promise.race([stands, gone, late]);
	clearTimeout(timer);
	return connected === true;
}

export function lost(message: string): TransientError {
	return new TransientError("notifier-unavailable", message);
}
