import type { Policy } from "../programme/policy.js";
import { only, type Transaction } from "../store/unit-of-work.js";
import { localDateOf } from "../time/local.js";
import { type BatchParts, registerBatch } from "./register.js";

/** Bleach that somebody says was made as planned, without a record of its runs. */
export interface MadeAsPlanned {
	readonly generatorId: string;
	readonly litres: number;
	readonly madeAtMs: number;
	/** A person's id, or the part of the program that acted. */
	readonly actor: string;
}

/**
 * Puts a batch on file at its generator's production point, as strong as was planned and as uncertain as a run whose current nobody read.
 * @returns the batch's code
 */
export async function made(
	tx: Transaction,
	parts: BatchParts,
	bleach: MadeAsPlanned,
	moment: { readonly nowMs: number; readonly policy: Policy },
): Promise<string> {
	const generator = only(
		await tx.query<{ code: string; areaCode: string; saltGPerL: number; timeZone: string }>(
			`SELECT g.code, a.code AS area_code, g.salt_g_per_l, a.time_zone FROM generator g JOIN area a ON a.id = g.area_id WHERE g.id = $1`,
			[bleach.generatorId],
		),
	);
	const { targetStrengthGPerL, madeStrengthLnSd } = moment.policy.generators;
	const code = await freeCode(
		tx,
		`${generator.code.slice(0, 26)}-${localDateOf(bleach.madeAtMs, generator.timeZone).replaceAll("-", "")}`,
	);
	await registerBatch(
		tx,
		parts,
		{
			code,
			madeAtMs: bleach.madeAtMs,
			volumeL: bleach.litres,
			madeStrengthGPerL: targetStrengthGPerL,
			madeStrengthLnSd: madeStrengthLnSd.currentNotRead,
			saltGPerL: Math.min(58, generator.saltGPerL),
			ph: null,
			phKnowledge: "not measured",
			wall: "opaque",
			exposure: "indoors",
			litAreaM2: 0,
			generatorCode: generator.code,
			areaCode: generator.areaCode,
			keeperCode: null,
		},
		moment,
		bleach.actor,
	);
	return code;
}

async function freeCode(tx: Transaction, stem: string): Promise<string> {
	for (let number = 1; ; number++) {
		const code = number === 1 ? stem : `${stem}-${number}`;
		if ((await tx.query("SELECT id FROM batch WHERE code = $1", [code])).length === 0) return code;
	}
}
