import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import { placeholders } from "../../store/sql.js";
import { Store } from "../../store/store.js";
import { HouseholdProtocols } from "../../water/protocol/household-protocol.js";
import { Endpoint } from "../edge/endpoint.js";
import { code } from "../edge/fields.js";
import { idNamed } from "../edge/named.js";
import { versionPath } from "./protocol-view.js";

const move = z
	.strictObject({
		householdCodes: z.array(code).min(1).max(500).optional(),
		areaCode: code.optional().meta({ description: "All households of the area and of those below it" }),
		why: z.string().trim().min(1).max(400),
	})
	.refine(({ householdCodes, areaCode }) => (householdCodes === undefined) !== (areaCode === undefined), {
		error: "must name householdCodes or areaCode, one of them",
	})
	.meta({ id: "ProtocolMove" });

const moved = z
	.strictObject({ moved: z.int().meta({ description: "Households that followed another version before" }) })
	.meta({ id: "MovedHouseholds" });

@Controller()
export class ProtocolHouseholdsController {
	constructor(
		private readonly store: Store,
		private readonly households: HouseholdProtocols,
	) {}

	@Endpoint({
		method: "POST",
		path: "/protocols/:code/:version/households",
		access: "lead",
		touches: ["household body.householdCodes[]", "area body.areaCode"],
		summary: "Moves households, or those of an area, to a version of a protocol: all or none",
		description: "Water that was dosed under the old version is judged by that one until the container is filled again.",
		answer: { description: "How many were moved", schema: moved },
	})
	async moveHouseholds(
		@Param({ schema: versionPath }) to: z.output<typeof versionPath>,
		@Body({ schema: move }) { householdCodes, areaCode, why }: z.output<typeof move>,
	): Promise<z.output<typeof moved>> {
		const by = { ...to, actor: "office", why };
		if (areaCode !== undefined)
			return { moved: await this.households.moveArea(await idNamed(this.store, "area", areaCode, "/areaCode"), by) };
		return { moved: await this.households.move(await this.idsOf(householdCodes ?? []), by) };
	}

	private async idsOf(codes: readonly string[]): Promise<string[]> {
		const rows = await this.store.query<{ id: string; code: string }>(
			`SELECT id, code FROM household WHERE code IN (${placeholders(codes.length)})`,
			codes,
		);
		const known = new Map(rows.map(({ id, code: known }) => [known, id]));
		const problems = codes.flatMap((asked, i) =>
			known.has(asked) ? [] : [{ at: `/householdCodes/${i}`, message: "names no household" }],
		);
		if (problems.length > 0)
			throw new InputError("unknown-subject", "There is no household with one of these codes; nobody was moved.", { problems });
		return [...known.values()];
	}
}
