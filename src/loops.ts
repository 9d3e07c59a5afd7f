import type { OnApplicationShutdown } from "@nestjs/common";
import type { HeadMailLoop } from "./audit/head-mail/loop.js";
import type { Scheduler } from "./duties/scheduler.js";
import type { SealingLoop } from "./ledger/sealing-loop.js";
import type { Notifiers } from "./messages/channels/registry.js";
import type { Courier } from "./messages/courier.js";
import type { NightlyClearing } from "./personal/nightly.js";
import type { WakeQueue } from "./queue/wake-queue.js";
import type { Settings } from "./settings/settings.js";
import type { Store } from "./store/store.js";

/** The loops of the roles that this process plays; the first to end when it stops, so that nothing new is begun. */
export class Loops implements OnApplicationShutdown {
	constructor(
		private readonly settings: Settings,
		private readonly scheduler: Scheduler,
		private readonly courier: Courier,
		private readonly queue: WakeQueue,
		private readonly notifiers: Notifiers,
		private readonly sealing: SealingLoop,
		private readonly clearing: NightlyClearing,
		private readonly headMail: HeadMailLoop,
		private readonly store: Store,
	) {}

	/** Nothing runs by itself before this: whoever puts services together may call them instead. */
	async start(): Promise<void> {
		if (this.settings.roles.includes("scheduler")) {
			this.scheduler.start();
			this.sealing.start();
			this.clearing.start();
			this.headMail.start();
		}
		if (this.settings.roles.includes("worker")) for (const notifier of this.notifiers.values()) notifier.open();
		await this.courier.start({
			works: this.settings.roles.includes("worker"),
			requeues: this.settings.roles.includes("scheduler"),
		});
	}

	async onApplicationShutdown(): Promise<void> {
		await this.scheduler.stop();
		await this.courier.stop();
		await this.sealing.stop();
		await this.clearing.stop();
		await this.headMail.stop();
		await this.queue.stop();
		for (const notifier of this.notifiers.values()) await notifier.close();
		await this.store.close();
	}
}
