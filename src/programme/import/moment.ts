import { Temporal } from "temporal-polyfill";
import { z } from "zod";
import type { Column } from "./column.js";

const MOMENT = "must be a date and time, such as 2025-03-09T07:30+06:00, or without an offset in the area's own time";
const SHAPE = /^(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d(?::\d\d(?:\.\d{1,3})?)?)(Z|[+-]\d\d:\d\d)?$/;

/** A date and time (ISO 8601), with an offset from UTC or in the wall time of a place. */
export const momentColumn: Column<string> = {
	schema: z
		.string(MOMENT)
		.refine((text) => momentMsOf(text, "UTC") !== undefined, MOMENT)
		.meta({ description: MOMENT }),
	right: MOMENT,
	read: (cell) => cell,
};

/**
 * The instant that a date and time names.
 * @param timeZone of the place, used where no offset is written; a wall time that comes twice is the first, so that what
 * was made then counts as older
 * @returns epoch milliseconds, or none where it names no instant
 */
export function momentMsOf(text: string, timeZone: string): number | undefined {
	const [, date, time, offset] = SHAPE.exec(text) ?? [];
	if (date === undefined || time === undefined) return undefined;
	try {
		if (offset !== undefined) return Temporal.Instant.from(`${date}T${time}${offset}`).epochMilliseconds;
		const wall = Temporal.PlainDateTime.from(`${date}T${time}`);
		return wall.toZonedDateTime(timeZone, { disambiguation: "compatible" }).epochMilliseconds;
	} catch (error) {
		if (error instanceof RangeError) return undefined;
		throw error;
	}
}
