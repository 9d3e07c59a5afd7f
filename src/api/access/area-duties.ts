import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { AreaDuties } from "../../access/area-duties.js";
import type { Caller } from "../../access/caller.js";
import { Store } from "../../store/store.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code } from "../edge/fields.js";
import { idNamed } from "../edge/named.js";

const areas = z.strictObject({ areaCodes: z.array(code).max(100) });
const wanted = areas.meta({ id: "AreaDutiesWanted" });
const told = areas.extend({ personCode: z.string() }).meta({ id: "AreaDuties" });

@Controller()
export class AreaDutiesController {
	constructor(
		private readonly store: Store,
		private readonly duties: AreaDuties,
	) {}

	@Endpoint({
		method: "GET",
		path: "/people/:code/areas",
		access: "oversee",
		touches: ["person path.code"],
		summary: "Tells which areas a supervisor, or somebody of the health office, sees to",
		answer: { description: "Her own first, each with all below it", schema: told },
	})
	async areasOf(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof told>> {
		const personId = await idNamed(this.store, "person", named.code, "code");
		return { personCode: named.code, areaCodes: await this.duties.of(personId) };
	}

	@Endpoint({
		method: "PUT",
		path: "/people/:code/areas",
		access: "administer",
		touches: ["whole", "person path.code", "area body.areaCodes[]"],
		summary: "Sets which areas she sees to beside her own",
		answer: { description: "The areas that are hers now", schema: told },
	})
	async setAreas(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: wanted }) { areaCodes }: z.output<typeof wanted>,
		@ByCaller() caller: Caller,
	): Promise<z.output<typeof told>> {
		const personId = await idNamed(this.store, "person", named.code, "code");
		await this.duties.set(personId, areaCodes, caller.actor);
		return { personCode: named.code, areaCodes: await this.duties.of(personId) };
	}
}
