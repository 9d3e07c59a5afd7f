import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { ApiKeys } from "../../access/api-keys.js";
import type { Caller } from "../../access/caller.js";
import { SCOPES } from "../../access/rules.js";
import { InputError } from "../../errors/errors.js";
import { Store } from "../../store/store.js";
import { Clock, DAY_MS } from "../../time/clock.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { code, utc, utcOf, utcOrNull } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";

const byId = z.strictObject({ id: z.string().min(1).max(40) });
const scopes = z.array(z.enum(SCOPES)).min(1).max(SCOPES.length);

const newKey = z
	.strictObject({
		name: z.string().trim().min(1).max(100).meta({ description: "What it is for" }),
		scopes,
		areaCode: code.nullable().default(null).meta({ description: "With all below it; null: the whole programme" }),
		days: z.int().min(1).max(366).default(90).meta({ description: "Until it ends" }),
	})
	.meta({ id: "NewApiKey" });

const made = z
	.strictObject({ id: z.string(), key: z.string().meta({ description: "Told this once" }), endsAt: utc })
	.meta({ id: "MadeApiKey" });

const key = z
	.strictObject({
		id: z.string(),
		name: z.string(),
		scopes,
		areaCode: z.string().nullable(),
		madeAt: utc,
		endsAt: utc,
		usedAt: utc.nullable().meta({ description: "To the hour" }),
		revokedAt: utc.nullable(),
	})
	.meta({ id: "ApiKey" });
const list = z.strictObject({ items: z.array(key) }).meta({ id: "ApiKeys" });
const revoked = z.strictObject({ revoked: z.literal(true) }).meta({ id: "RevokedApiKey" });

@Controller()
export class ApiKeysController {
	constructor(
		private readonly store: Store,
		private readonly keys: ApiKeys,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/api-keys",
		access: "administer",
		touches: ["whole"],
		summary: "Lists the keys of programs, ended ones too",
		answer: { description: "The newest first", schema: list },
	})
	async listKeys(): Promise<z.output<typeof list>> {
		const [all, areas] = await Promise.all([
			this.keys.list(),
			this.store.query<{ id: string; code: string }>("SELECT id, code FROM area WHERE id IN (SELECT area_id FROM api_key)"),
		]);
		const codes = new Map(areas.map(({ id, code: known }) => [id, known]));
		return {
			items: all.map(({ id, name, scopes: may, areaId, madeAtMs, endsAtMs, usedAtMs, revokedAtMs }) => ({
				...{ id, name, scopes: [...may], areaCode: areaId === null ? null : (codes.get(areaId) ?? null) },
				...{ madeAt: utcOf(madeAtMs), endsAt: utcOf(endsAtMs) },
				...{ usedAt: utcOrNull(usedAtMs), revokedAt: utcOrNull(revokedAtMs) },
			})),
		};
	}

	@Endpoint({
		method: "POST",
		path: "/api-keys",
		access: "administer",
		touches: ["whole", "area body.areaCode"],
		summary: "Makes a key for a program, which may do what its scopes say in its part of the programme",
		answer: { status: 201, description: "The key, told this once", schema: made, isSecret: true },
	})
	async makeKey(
		@Body({ schema: newKey }) { areaCode, days, ...given }: z.output<typeof newKey>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof made>> {
		const areaId = (await idIfNamed(this.store, "area", areaCode ?? undefined, "/areaCode")) ?? null;
		const endsAtMs = this.clock.nowMs() + days * DAY_MS;
		const { id, key: told } = await this.keys.make({ ...given, areaId, endsAtMs }, caller.actor);
		return { id, key: told, endsAt: utcOf(endsAtMs) };
	}

	@Endpoint({
		method: "POST",
		path: "/api-keys/:id/revoke",
		access: "administer",
		touches: ["whole"],
		summary: "Ends a key at once",
		answer: { description: "Nobody gets in with it any more", schema: revoked },
	})
	async revokeKey(
		@Param({ schema: byId }) { id }: z.output<typeof byId>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof revoked>> {
		if (await this.keys.revoke(id, caller.actor)) return { revoked: true };
		throw new InputError("unknown-subject", "There is no key with this id that could still be used.", { status: 404 });
	}
}
