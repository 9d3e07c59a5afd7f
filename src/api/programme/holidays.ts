import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Ids } from "../../time/ids.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode } from "../edge/fields.js";
import { idNamed } from "../edge/named.js";

const MOST = 400;

const holiday = z.strictObject({
	onDate: z.iso.date().meta({ description: "Local date, year-month-day" }),
	name: z.string().trim().min(1).max(200),
});

const list = z.strictObject({ holidays: z.array(holiday).max(MOST) });
const wanted = list.meta({ id: "HolidaysWanted" });
const answer = list.extend({ areaCode: z.string() }).meta({ id: "Holidays" });

@Controller()
export class HolidaysController {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	@Endpoint({
		method: "GET",
		path: "/areas/:code/holidays",
		access: "look",
		touches: ["area path.code"],
		summary: "Lists the public holidays of an area",
		answer: { description: "Its own, by date; those of the areas that it lies in hold for it too", schema: answer },
	})
	async holidaysOf(@Param({ schema: byCode }) named: z.output<typeof byCode>): Promise<z.output<typeof answer>> {
		const areaId = await idNamed(this.store, "area", named.code, "code");
		const holidays = await this.store.query<z.output<typeof holiday>>(
			"SELECT on_date, name FROM holiday WHERE area_id = $1 ORDER BY on_date, code",
			[areaId],
		);
		return { areaCode: named.code, holidays: holidays.map(({ onDate, name }) => ({ onDate, name })) };
	}

	@Endpoint({
		method: "PUT",
		path: "/areas/:code/holidays",
		access: "lead",
		touches: ["area path.code"],
		summary: "Sets the public holidays of an area",
		description:
			"The whole list: what isn't in it is no holiday any more. Nobody of the area, or of one below it, is written to about work on these days, but for what is urgent.",
		answer: { description: "The holidays that hold now", schema: answer },
	})
	async setHolidays(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: wanted }) { holidays }: z.output<typeof wanted>,
	): Promise<z.output<typeof answer>> {
		const areaId = await idNamed(this.store, "area", named.code, "code");
		const dates = holidays.map(({ onDate }) => onDate);
		const problems = dates.flatMap((date, i) =>
			dates.indexOf(date) < i ? [{ at: `/holidays/${i}/onDate`, message: "is in the list before; each day once" }] : [],
		);
		if (problems.length > 0)
			throw new InputError("invalid-input", "A day is in the list twice.", { problems: problems.slice(0, 100) });
		await this.store.work.run(async (tx) => {
			await tx.affected("DELETE FROM holiday WHERE area_id = $1", [areaId]);
			for (const { onDate, name } of holidays) {
				const id = this.ids.next();
				await tx.affected("INSERT INTO holiday (id, code, area_id, on_date, name) VALUES ($1, $1, $2, $3, $4)", [
					id,
					areaId,
					onDate,
					name,
				]);
			}
			const about = { actor: "office", action: "holidays set", subjectKind: "area", subjectId: areaId, areaId };
			await record(tx, this.ids, [{ ...about, atMs: this.clock.nowMs(), detail: { holidays: dates.toSorted() } }]);
		});
		return this.holidaysOf(named);
	}
}
