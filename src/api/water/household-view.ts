import { z } from "zod";
import type { ContainerNow, HouseholdNow } from "../../water/household-water.js";
import { utc, utcOf, utcOrNull } from "../edge/fields.js";
import { doseAnswerSchema } from "./dose-view.js";

const threePoints = z.strictObject({ low: z.number(), median: z.number(), high: z.number() });

const doseSchema = z.union([
	doseAnswerSchema,
	z
		.strictObject({
			kind: z.literal("doseThenCheck"),
			volumeMl: z.number().meta({ description: "Bleach to measure" }),
			exactVolumeMl: z.number(),
			plannedDoseMgPerL: z.number(),
			doubled: z.boolean().meta({ description: "The protocol doubles the dose: the water is cold, or can't be made clear" }),
			contactMinutes: z.number(),
			useWithinHours: z.number().nullable(),
			doseMgPerL: threePoints,
			residualAfterContactMgPerL: threePoints,
		})
		.meta({ id: "DoseThenCheck", description: "Nobody drinks before a reading has found it fit" }),
	z
		.strictObject({ kind: z.literal("treatFirst"), texts: z.array(z.string()) })
		.meta({ id: "TreatFirst", description: "The protocol gives such water no dose before that" }),
]);

const containerSchema = z
	.strictObject({
		code: z.string(),
		volumeL: z.number(),
		kind: z.string(),
		fillsPerWeek: z.number(),
		doseOfAFullContainer: doseSchema.nullable().meta({ description: "Today's, from the jar at hand; null: there is none" }),
		water: z
			.strictObject({
				dosedAt: utc.nullable().meta({ description: "null: no dose is open in it" }),
				doseMgPerL: z.number().nullable(),
				waitEndsAt: utc.nullable(),
				drinkable: z.enum(["yes", "after the wait", "after a fit reading", "no", "not known"]),
				lastReading: z
					.strictObject({
						checkedAt: utc,
						freeChlorineMgPerL: z.number(),
						fitToDrink: z.boolean().nullable(),
						band: z.string().nullable(),
						flags: z.array(z.string()),
					})
					.nullable(),
				nextCheckAt: utc.nullable(),
			})
			.meta({ id: "WaterInContainer" }),
		lastCleanedAt: utc.nullable(),
		nextCleaningAt: utc.nullable(),
		cleanings: z.array(z.strictObject({ cleanedAt: utc, cleanerCode: z.string().nullable() })),
	})
	.meta({ id: "ContainerNow" });

export const householdWaterSchema = z
	.strictObject({
		householdCode: z.string(),
		persons: z.int(),
		waterSource: z.string().meta({ description: "Of the season" }),
		turbidity: z.string(),
		isSeason: z.boolean().meta({ description: "true: the other source of the household's season" }),
		treatFirst: z.array(z.string()).meta({ description: "What the protocol does with such water before it is dosed" }),
		treatedLitresPerDay: z.number(),
		storedL: z.number().meta({ description: "In all containers when they are full" }),
		storageDays: z.number().nullable().meta({ description: "How long that lasts; null: no water is treated" }),
		refillEveryHours: z.number(),
		bleachMlPerWeek: z
			.number()
			.nullable()
			.meta({ description: "At the jar's likely strength, or 5 g/L without a jar; null: such water isn't dosed" }),
		plannedDoseMgPerL: z.number().nullable(),
		protocol: z.strictObject({
			code: z.string(),
			version: z.int(),
			title: z.string(),
			drinkFrom: z.enum(["contactTime", "fitReading"]),
		}),
		jar: z
			.strictObject({ code: z.string(), strengthGPerL: z.number(), lowGPerL: z.number(), highGPerL: z.number() })
			.nullable()
			.meta({ description: "The jar that doses come from now" }),
		containers: z.array(containerSchema),
	})
	.meta({ id: "HouseholdWater" });

export function householdWaterView(now: HouseholdNow): z.output<typeof householdWaterSchema> {
	const { code, protocol, jar, containers, treatFirst, ...rest } = now;
	return {
		householdCode: code,
		...rest,
		treatFirst: [...treatFirst],
		protocol: { code: protocol.code, version: protocol.version, title: protocol.title, drinkFrom: protocol.body.drinkFrom },
		jar: jar
			? {
					code: jar.code,
					strengthGPerL: jar.strength.medianGPerL,
					lowGPerL: jar.strength.lowGPerL,
					highGPerL: jar.strength.highGPerL,
				}
			: null,
		containers: containers.map(containerView),
	};
}

function containerView(now: ContainerNow): z.output<typeof containerSchema> {
	const { container, fill, lastReading: last } = now;
	const dose = now.dose?.kind === "treatFirst" ? { ...now.dose, texts: [...now.dose.texts] } : now.dose;
	return {
		code: container.code,
		volumeL: container.volumeL,
		kind: container.kind,
		fillsPerWeek: now.fillsPerWeek,
		// Hours that never end are null in JSON.
		doseOfAFullContainer: dose === null ? null : (JSON.parse(JSON.stringify(dose)) as z.output<typeof doseSchema>),
		water: {
			dosedAt: utcOrNull(fill?.dosedAtMs ?? null),
			doseMgPerL: fill?.doseMgPerL ?? null,
			waitEndsAt: utcOrNull(now.waitEndsAtMs),
			drinkable: now.drinkable,
			lastReading: last
				? {
						checkedAt: utcOf(last.checkedAtMs),
						freeChlorineMgPerL: last.freeChlorineMgPerL,
						fitToDrink: last.fitToDrink,
						band: last.band,
						flags: [...last.flags],
					}
				: null,
			nextCheckAt: utcOrNull(now.nextCheckAtMs),
		},
		lastCleanedAt: utcOrNull(now.lastCleanedAtMs),
		nextCleaningAt: utcOrNull(now.nextCleaningAtMs),
		cleanings: now.cleanings.map(({ cleanedAtMs, cleanerCode }) => ({ cleanedAt: utcOf(cleanedAtMs), cleanerCode })),
	};
}
