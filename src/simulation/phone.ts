import { type Delivery, Notifier, type Outgoing } from "../messages/notifier.js";

/** A channel to simulated phones, some of which are off on some days. */
export class SimulatedPhones extends Notifier {
	readonly name = "simulated";
	readonly arrived: Outgoing[] = [];
	/** How many messages have arrived in all. */
	count = 0;
	/** Whether a person's phone is off at the moment; set by the run. */
	isOff: (personId: string) => boolean = () => false;

	async send(message: Outgoing): Promise<Delivery> {
		if (this.isOff(message.recipient.personId))
			return { kind: "refused", reason: "the simulated phone is switched off", forGood: false };
		this.arrived.push(message);
		this.count++;
		return { kind: "accepted", answer: "shown on the simulated phone" };
	}
}
