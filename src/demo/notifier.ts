import { type Delivery, Notifier, type Outgoing } from "../messages/notifier.js";
import type { SimulatedPeople } from "./volunteers.js";

/** A channel to simulated people: it keeps what arrived, and refuses for whoever can't be reached. */
export class DemoNotifier extends Notifier {
	readonly name = "demo";
	readonly arrived: Outgoing[] = [];
	readonly refused: Outgoing[] = [];

	private byHand = false;

	/** @param shown what carries messages once the simulated days are over */
	constructor(
		private readonly people: Pick<SimulatedPeople, "reaches">,
		private readonly shown: Notifier,
	) {
		super();
	}

	/** From now on nobody answers by herself: messages are shown to whoever tries the program by hand. */
	goOnByHand(): void {
		this.byHand = true;
	}

	async send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		if (this.byHand) return this.shown.send(message, signal);
		if (this.people.reaches(message.recipient.personId)) {
			this.arrived.push(message);
			return { kind: "accepted", answer: "shown on the simulated phone" };
		}
		this.refused.push(message);
		return { kind: "refused", reason: "the simulated phone is switched off", forGood: false };
	}
}
