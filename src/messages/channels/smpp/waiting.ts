import type { Pdu, Session } from "smpp";
import { TransientError } from "../../../errors/errors.js";

/** Questions that have no answer yet. */
export class Waiting {
	private readonly open = new WeakMap<Session, Set<(error: Error) => void>>();

	/**
	 * @param late is told an answer that comes after all, when nobody waits for it any more
	 * @throws TransientError where the link is gone or goes, or no answer comes within the time
	 */
	answer(session: Session, pdu: Pdu, withinMs: number, late?: (answer: Pdu) => void): Promise<Pdu> {
		return new Promise((resolve, reject) => {
			const questions = this.open.get(session) ?? new Set();
			this.open.set(session, questions);
			const end = () => {
				clearTimeout(timer);
				questions.delete(fail);
			};
			const fail = (error: Error) => {
				end();
				reject(error);
			};
			const timer = setTimeout(() => fail(silence(`no answer to ${pdu.command} within ${withinMs / 1000} s`)), withinMs);
			questions.add(fail);
			const isSent = session.send(pdu, (answer) => {
				if (!questions.has(fail)) return late?.(answer);
				end();
				resolve(answer);
			});
			if (!isSent) fail(silence("the link was lost"));
		});
	}

	/** The package would never call back any more. */
	lost(session: Session): void {
		for (const fail of [...(this.open.get(session) ?? [])]) fail(silence("the link was lost before an answer came"));
		this.open.delete(session);
	}
}

function silence(message: string): TransientError {
	return new TransientError("notifier-unavailable", message);
}
