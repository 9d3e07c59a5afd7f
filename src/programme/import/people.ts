import { z } from "zod";
import { type Column, choiceColumn, codeColumn, orEmpty, orMissing, referenceColumn, textColumn } from "./column.js";
import { importKind } from "./kind.js";
import { phoneE164Of } from "./phone.js";
import { toArea } from "./references.js";

const PHONE =
	"must be a phone number with its country, such as +44 7700 900123; without one only where the import names a default country";
const phoneColumn: Column<string> = {
	schema: z
		.string(PHONE)
		.regex(/^\+[1-9]\d{4,14}$/, PHONE)
		.meta({ description: PHONE }),
	right: PHONE,
	read: (cell, manner) => phoneE164Of(cell, manner.defaultCountry),
	shown: "in part",
};

const LANGUAGE = "must be a language tag (BCP 47), such as en or bn-BD";
export const languageColumn: Column<string> = {
	schema: z
		.string(LANGUAGE)
		.regex(/^[a-z]{2,3}(-[A-Z][a-z]{3})?(-([A-Z]{2}|\d{3}))?$/, LANGUAGE)
		.meta({ description: LANGUAGE }),
	right: LANGUAGE,
	read: canonicalLanguage,
};

function canonicalLanguage(cell: string): string | undefined {
	try {
		return Intl.getCanonicalLocales(cell)[0];
	} catch {
		return undefined;
	}
}

const DAYS = 'must be weekdays, 1 = Monday to 7 = Sunday, such as "1 2 3 4 5", "1-6" or "7-4"';
const workingDaysColumn: Column<number[]> = {
	schema: z.array(z.int(DAYS).min(1, DAYS).max(7, DAYS), DAYS).min(1, DAYS).max(7, DAYS).meta({ description: DAYS }),
	right: DAYS,
	read: weekdaysIn,
};

/** @returns the weekdays in their order; "7-4" goes from Sunday over the week's end to Thursday */
function weekdaysIn(cell: string): number[] | undefined {
	const days = new Set<number>();
	for (const part of cell.split(/[\s,]+/)) {
		const match = /^([1-7])(?:-([1-7]))?$/.exec(part);
		if (!match) return undefined;
		const last = Number(match[2] ?? match[1]);
		for (let day = Number(match[1]); ; day = (day % 7) + 1) {
			days.add(day);
			if (day === last) break;
		}
	}
	return [...days].sort();
}

const TIME = "must be a time of day, 00:00 to 23:59";
export const wallTimeColumn: Column<string> = {
	schema: z
		.string(TIME)
		.regex(/^([01]\d|2[0-3]):[0-5]\d$/, TIME)
		.meta({ description: TIME }),
	right: TIME,
	// Quiet hours are compared as text: 7:30 must be 07:30.
	read: (cell) => cell.padStart(5, "0"),
};

const CHANNELS = 'must be names of channels in order of preference, such as "sms email"';
const channelsColumn: Column<string[]> = {
	schema: z
		.array(z.string(CHANNELS).regex(/^[a-z][a-z0-9-]{0,39}$/, CHANNELS), CHANNELS)
		.max(10, CHANNELS)
		.refine((names) => new Set(names).size === names.length, CHANNELS)
		.meta({ description: CHANNELS }),
	right: CHANNELS,
	read: (cell) => cell.split(/[\s,]+/),
};

const EMAIL = "must be an e-mail address, such as name@example.org";
const emailColumn: Column<string> = {
	schema: z.email(EMAIL).max(254, EMAIL).meta({ description: EMAIL }),
	right: EMAIL,
	read: (cell) => cell.toLowerCase(),
	shown: "never",
};

/** Volunteers, their supervisors, and the health office. */
export const personImport = importKind({
	name: "people",
	noun: "person",
	table: "person",
	columns: {
		code: codeColumn(),
		role: choiceColumn("volunteer", "supervisor", "health office"),
		name: textColumn(200, "never"),
		phone: orEmpty(phoneColumn),
		language: languageColumn,
		area_code: referenceColumn(toArea),
		supervisor_code: orEmpty(codeColumn()),
		working_days: workingDaysColumn,
		quiet_from: wallTimeColumn,
		quiet_until: wallTimeColumn,
		channels: orEmpty(channelsColumn),
		email: orMissing(emailColumn),
	},
	tree: {
		column: "supervisor_code",
		field: "supervisor_id",
		asks: { column: "role", allowed: ["supervisor", "health office"] },
	},
	whenAdded: { active: true },
	fieldsOf: (values, { idOf }) => ({
		role: values.role,
		name: values.name,
		phone_e164: values.phone,
		language: values.language,
		area_id: idOf("area_code"),
		working_days: values.working_days,
		quiet_from: values.quiet_from,
		quiet_until: values.quiet_until,
		channels: values.channels ?? [],
		...(values.email === undefined ? {} : { email: values.email }),
	}),
});
