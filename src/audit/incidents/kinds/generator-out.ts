import { among } from "../../../store/sql.js";
import { DAY_MS } from "../../../time/clock.js";
import {
	type Cause,
	type Evidence,
	type Fact,
	IncidentKind,
	type OpenIncident,
	type Reader,
	type Window,
} from "../incident-kind.js";

/** A generator that is out for less is mended before stock runs low. Own choice. */
const OUT_DAYS = 1;

/** A generator that has made nothing for a day and was said to be out. */
export class GeneratorOut extends IncidentKind {
	readonly name = "generator out";
	readonly words = "A generator that was said to be out has made nothing for a day.";
	readonly subjectKind = "generator";
	readonly text = "incident.generatorOut";

	async causes(from: Reader, { nowMs }: Window): Promise<Cause[]> {
		const rows = await from.query<{
			id: string;
			generatorId: string;
			code: string;
			areaId: string;
			fromMs: number;
			reason: string;
		}>(
			`SELECT o.id, o.generator_id, g.code, g.area_id, o.from_ms, o.reason FROM generator_outage o JOIN generator g ON g.id = o.generator_id
			 WHERE o.until_ms IS NULL AND o.from_ms <= $1 AND g.in_service
			   AND NOT EXISTS (SELECT 1 FROM incident i WHERE i.kind = $2 AND i.cause_id = o.id) ORDER BY o.from_ms, o.id`,
			[nowMs - OUT_DAYS * DAY_MS, this.name],
		);
		return rows.map(({ id, generatorId, code, areaId, fromMs, reason }) => ({
			causeId: id,
			subjectId: generatorId,
			areaId,
			happenedAtMs: fromMs,
			found: { about: code, reason },
		}));
	}

	async settled(from: Reader, open: readonly OpenIncident[]): Promise<Evidence[]> {
		const rows = await from.query<{ id: string }>(
			`SELECT i.id FROM incident i WHERE i.id ${among(from.kind, "$1")} AND NOT EXISTS (SELECT 1 FROM generator_outage o WHERE o.generator_id = i.subject_id AND o.until_ms IS NULL)`,
			[open.map(({ id }) => id)],
		);
		return rows.map(({ id }) => ({ id, because: "the generator works again" }));
	}

	async story(from: Reader, { subjectId, happenedAtMs }: OpenIncident) {
		const outages = await from.query<{ id: string; fromMs: number; untilMs: number | null; reason: string }>(
			"SELECT id, from_ms, until_ms, reason FROM generator_outage WHERE generator_id = $1 AND from_ms >= $2 ORDER BY from_ms",
			[subjectId, happenedAtMs],
		);
		const facts = outages.flatMap(({ id, fromMs, untilMs, reason }): Fact[] => [
			{ id, atMs: fromMs, what: "generator out", detail: { reason } },
			...(untilMs === null ? [] : [{ id, atMs: untilMs, what: "generator works again", detail: {} }]),
		]);
		return { facts, taskSubjectIds: [subjectId] };
	}
}
