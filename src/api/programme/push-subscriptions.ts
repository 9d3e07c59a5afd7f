import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import { StoredPushSubscriptions } from "../../messages/push-subscriptions.js";
import { isPushAddress, type WebPushSettings } from "../../settings/channels/web-push.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode } from "../edge/fields.js";
import { idNamed } from "../edge/named.js";

const ofBytes = (bytes: number) =>
	z
		.string()
		.max(200)
		.refine(
			(text) => /^[A-Za-z0-9_-]+={0,2}$/.test(text) && Buffer.from(text, "base64url").length === bytes,
			`must be ${bytes} bytes in base64url`,
		);

const subscription = z
	.strictObject({
		endpoint: z.string().max(2000).meta({ description: "Address at a push service of the settings" }),
		expirationTime: z.number().nullable().optional().meta({ description: "As a browser gives it; not used" }),
		keys: z.strictObject({ p256dh: ofBytes(65), auth: ofBytes(16) }),
	})
	.meta({ id: "PushSubscription" });

const kept = z.strictObject({ personCode: z.string(), browsers: z.int() }).meta({ id: "KeptPushSubscription" });

/** Where browsers may be pushed to; none: that channel isn't set up. */
export abstract class PushSetting {
	abstract readonly webPush: WebPushSettings | undefined;
}

@Controller()
export class PushSubscriptionsController {
	constructor(
		private readonly store: Store,
		private readonly subscriptions: StoredPushSubscriptions,
		private readonly setting: PushSetting,
	) {}

	@Endpoint({
		method: "POST",
		path: "/people/:code/push-subscriptions",
		access: "work",
		touches: ["person path.code"],
		summary: "Keeps a browser in which a person is shown messages",
		answer: { status: 201, description: "How many browsers she has now", schema: kept },
	})
	async keepSubscription(
		@Param({ schema: byCode }) { code: personCode }: z.output<typeof byCode>,
		@Body({ schema: subscription }) { endpoint, keys }: z.output<typeof subscription>,
	): Promise<z.output<typeof kept>> {
		const { webPush } = this.setting;
		if (!webPush)
			throw new InputError("conflict", "The channel web-push isn't set up here (JARWATCH_CHANNELS).", { status: 409 });
		if (!isPushAddress(endpoint, webPush.hosts))
			throw new InputError("invalid-input", "This push service isn't one of the settings.", {
				problems: [{ at: "/endpoint", message: `must be an https address at ${webPush.hosts.join(" or ")}` }],
			});
		const personId = await idNamed(this.store, "person", personCode, "code");
		await this.subscriptions.add(personId, { endpoint, ...keys });
		return { personCode, browsers: (await this.subscriptions.of(personId)).length };
	}
}
