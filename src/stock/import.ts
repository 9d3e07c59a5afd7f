import { toGenerator } from "../generators/import.js";
import { choiceColumn, codeColumn, numberColumn, orEmpty, referenceColumn } from "../programme/import/column.js";
import { importKind } from "../programme/import/kind.js";
import { momentColumn, momentMsOf } from "../programme/import/moment.js";
import { toArea, toPerson } from "../programme/import/references.js";
import { localTimeOf } from "../time/local.js";
import { litAreaProblem } from "./outside-model.js";

/**
 * Standard deviation of the logarithm of a strength that is only told of: the upper end of what is usual for a record of a
 * run (0.15 to 0.25), because nobody here saw how it was measured. A wider belief asks for the first test sooner.
 */
const TOLD_STRENGTH_LN_SD = 0.25;
/** Far older than anything that is kept; an earlier year is a slip of the pen or of a spreadsheet. */
const EARLIEST_MS = 946_684_800_000; // 2000-01-01T00:00Z

/** Jars of bleach that were made before the program knew of them, or elsewhere. */
export const batchImport = importKind({
	name: "batches",
	noun: "batch",
	table: "batch",
	columns: {
		code: codeColumn(),
		generator_code: orEmpty(referenceColumn(toGenerator)),
		area_code: referenceColumn(toArea),
		keeper_code: orEmpty(referenceColumn(toPerson)),
		made_at: momentColumn,
		volume_l: numberColumn({ from: 0.1, to: 1000, unit: "litres" }),
		strength_g_per_l: numberColumn({ from: 0.5, to: 15, unit: "grams of available chlorine a litre; 0.5 % is 5" }),
		ph: orEmpty(numberColumn({ from: 7, to: 13, unit: "pH; a lower one gives off chlorine gas: read it again, never add acid" })),
		ph_knowledge: choiceColumn("not measured", "strip", "meter"),
		wall: choiceColumn("opaque", "opaqueWhite", "translucent", "clearPlastic", "clearGlass", "amberGlass"),
		exposure: choiceColumn("indoors", "shade", "directSun"),
		salt_g_per_l: numberColumn({ from: 0, to: 350, unit: "grams of salt a litre of brine" }),
		lit_area_m2: numberColumn({ from: 0, to: 10, unit: "square metres that light falls on" }),
	},
	whenAdded: { state: "in use" },
	// It begins with a belief in the strength as made, which may just have been put right; a discarded jar gets no new one.
	whenChanged: "forecast = CASE WHEN batch.state = 'discarded' THEN batch.forecast END",
	fieldsOf(values, { nowMs, found, idOf, refuse }) {
		const timeZone = found("area_code")?.timeZone ?? "UTC";
		const madeAtMs = momentMsOf(values.made_at, timeZone) ?? Number.NaN;
		if (!(madeAtMs <= nowMs)) refuse("made_at", `must not be in the future; it is ${localTimeOf(nowMs, timeZone)} there now`);
		else if (madeAtMs < EARLIEST_MS) refuse("made_at", "must not be before the year 2000");
		if (values.ph === null && values.ph_knowledge !== "not measured")
			refuse("ph_knowledge", 'must be "not measured" where ph is empty');
		if (values.ph !== null && values.ph_knowledge === "not measured")
			refuse("ph_knowledge", 'must be "strip" or "meter" where a ph is given');
		const lit = litAreaProblem({
			volumeL: values.volume_l,
			madeStrengthGPerL: values.strength_g_per_l,
			litAreaM2: values.lit_area_m2,
			wall: values.wall,
		});
		if (lit) refuse("lit_area_m2", lit);
		return {
			generator_id: idOf("generator_code"),
			area_id: idOf("area_code"),
			keeper_id: idOf("keeper_code"),
			made_at_ms: madeAtMs,
			volume_l: values.volume_l,
			made_strength_g_per_l: values.strength_g_per_l,
			made_strength_ln_sd: TOLD_STRENGTH_LN_SD,
			salt_g_per_l: values.salt_g_per_l,
			ph: values.ph,
			ph_knowledge: values.ph_knowledge,
			wall: values.wall,
			exposure: values.exposure,
			lit_area_m2: values.lit_area_m2,
		};
	},
});
