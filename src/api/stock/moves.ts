import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import type { Caller } from "../../access/caller.js";
import { StockMoves } from "../../stock/stock-moves.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { ByCaller } from "../edge/acting.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, utc, utcOf } from "../edge/fields.js";
import { idNamed } from "../edge/named.js";
import { Conditions, pageOf, pageQuery, pageSchema, type Sort } from "../edge/page.js";
import { newMove } from "./move-schemas.js";

const jarStock = z
	.strictObject({
		code: z.string(),
		state: z.enum(["in use", "weak", "empty", "discarded"]),
		heldMl: z.number().meta({ description: "The sum of its moves, mL" }),
		keeperCode: z.string().nullable(),
		householdCode: z.string().nullable(),
		productionPoint: z
			.string()
			.nullable()
			.meta({ description: "Generator whose point it stands at; none where it has a keeper or a household" }),
		drawnFrom: z.string().nullable().meta({ description: "Code of the jar that it was drawn from" }),
	})
	.meta({ id: "JarStock" });

const line = z
	.strictObject({
		id: z.string(),
		kind: z.enum(["made", "drawn in", "drawn out", "used", "spilt", "discarded", "corrected"]),
		volumeMl: z.number().meta({ description: "More than 0: into the jar" }),
		at: utc,
		recordedAt: utc,
		byCode: z.string().nullable(),
		otherJarCode: z.string().nullable(),
		note: z.string().nullable().meta({ description: "What it was for: the id of a dose, or a few words" }),
	})
	.meta({ id: "StockMove" });

type Line = Omit<z.output<typeof line>, "at" | "recordedAt" | "volumeMl"> & {
	atMs: number;
	recordedAtMs: number;
	volumeUl: number;
};

const sorts = {
	at: { column: "m.at_ms", property: "atMs", kind: "instant" },
	"-at": { column: "m.at_ms", property: "atMs", kind: "instant", descending: true },
} as const satisfies Record<string, Sort>;

const query = pageQuery(sorts, {});

@Controller()
export class StockMovesController {
	constructor(
		private readonly store: Store,
		private readonly moves: StockMoves,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/batches/:code/moves",
		access: "work",
		touches: [
			"batch path.code",
			"person body.to.keeperCode",
			"household body.to.householdCode",
			"generator body.to.productionPoint",
			"new batch body.into.code",
			"person body.into.keeperCode",
			"household body.into.householdCode",
			"generator body.into.productionPoint",
		],
		by: "byCode",
		summary: "Keeps that bleach was used, spilt, counted, discarded, handed over or drawn off into another jar",
		answer: {
			status: 201,
			description: "The jar that holds the bleach now: the other one where it was drawn off",
			schema: jarStock,
		},
	})
	async recordMove(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: newMove }) given: z.output<typeof newMove>,
	): Promise<z.output<typeof jarStock>> {
		const { at, byCode: by = null, note = null, ...move } = given;
		const id = await this.moves.record(named.code, { ...move, atMs: at ?? this.clock.nowMs(), byCode: by, note });
		return this.jar(id);
	}

	@Endpoint({
		method: "GET",
		path: "/batches/:code/moves",
		access: "look",
		touches: ["list", "batch path.code"],
		summary: "Lists what went into a jar and out of it",
		answer: { description: "Lines; none: nothing has been moved yet, the jar holds its volume", schema: pageSchema(line) },
	})
	async listMoves(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Query({ schema: query }) asked: z.output<typeof query>,
		@ByCaller() caller: Caller,
	) {
		const jarId = await idNamed(this.store, "batch", named.code, "code");
		const conditions = new Conditions(caller.reach.over("batch", "j"));
		conditions.addIf(jarId, (place, value) => `m.jar_id = ${place(value)}`);
		const select = `SELECT m.id, m.kind, m.volume_ul, m.at_ms, m.recorded_at_ms, p.code AS by_code, o.code AS other_jar_code, m.reference AS note
			FROM stock_move m JOIN batch j ON j.id = m.jar_id LEFT JOIN person p ON p.id = m.by_person_id LEFT JOIN batch o ON o.id = m.other_jar_id`;
		return pageOf<Line, z.output<typeof line>>(this.store, select, "m.id", sorts, asked, conditions, lineOf);
	}

	@Endpoint({
		method: "GET",
		path: "/batches/:code/stock",
		access: "look",
		touches: ["batch path.code"],
		summary: "Tells what a jar holds, and where it stands",
		answer: { description: "The jar", schema: jarStock },
	})
	async jarNow(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof jarStock>> {
		return this.jar(await idNamed(this.store, "batch", named.code, "code"));
	}

	private async jar(id: string): Promise<z.output<typeof jarStock>> {
		const [row] = await this.store.query<Omit<z.output<typeof jarStock>, "heldMl"> & { heldUl: number }>(
			`SELECT b.code, b.state, COALESCE(b.held_ul, ROUND(b.volume_l * 1000000)) AS held_ul, k.code AS keeper_code, h.code AS household_code,
				CASE WHEN b.keeper_id IS NULL AND b.household_id IS NULL THEN g.code END AS production_point, f.code AS drawn_from
			 FROM batch b LEFT JOIN person k ON k.id = b.keeper_id LEFT JOIN household h ON h.id = b.household_id
				LEFT JOIN generator g ON g.id = b.generator_id LEFT JOIN batch f ON f.id = b.drawn_from_id WHERE b.id = $1`,
			[id],
		);
		const { heldUl, ...jar } = row as NonNullable<typeof row>;
		return { ...jar, heldMl: Number(heldUl) / 1000 };
	}
}

function lineOf({ atMs, recordedAtMs, volumeUl, ...rest }: Line): z.output<typeof line> {
	return { ...rest, volumeMl: volumeUl / 1000, at: utcOf(atMs), recordedAt: utcOf(recordedAtMs) };
}
