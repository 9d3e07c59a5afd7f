import { Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import { Rounds, type WorkPlace } from "../../duties/rounds.js";
import { rounded } from "../../science/rounded.js";
import { Clock } from "../../time/clock.js";
import { localDateOf } from "../../time/local.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, utc, utcOf } from "../edge/fields.js";
import { localDate } from "./schemas.js";

const query = z.strictObject({ date: localDate.optional().meta({ description: "Left out: today in UTC" }) });
const place = { latitudeDeg: z.number(), longitudeDeg: z.number() };
const task = z.strictObject({ code: z.string(), kind: z.string() });
const call = {
	kind: z.enum(["household", "generator"]),
	code: z.string(),
	...place,
	isPlaceKnown: z.boolean().meta({ description: "false: the middle of its area is taken" }),
	dueAt: utc.meta({ description: "Of the oldest work there" }),
	tasks: z.array(task),
};

const round = z
	.strictObject({
		date: localDate,
		timeZone: z.string(),
		isWorkingDay: z.boolean(),
		startAt: utc,
		backAt: utc,
		endAt: utc.meta({ description: "Of the working hours" }),
		home: z.strictObject(place),
		km: z.number().meta({ description: "In straight lines, with the way home" }),
		walkingKmPerH: z.number(),
		detour: z.number().meta({ description: "Paths are taken to be so many times the straight line" }),
		stops: z.array(
			z.strictObject({ ...call, km: z.number().meta({ description: "From the stop before" }), arriveAt: utc, leaveAt: utc }),
		),
		leftOver: z.array(z.strictObject(call)).meta({ description: "What the working hours don't hold, the most urgent first" }),
		atHome: z.array(task).meta({ description: "Work on jars that she keeps herself" }),
	})
	.meta({ id: "Round" });

@Controller()
export class RoundsController {
	constructor(
		private readonly rounds: Rounds,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "GET",
		path: "/people/:code/round",
		access: "look",
		touches: ["person path.code"],
		summary: "Orders a volunteer's open work of a day into a round that begins and ends at her place",
		answer: { description: "The stops in their order, with what doesn't fit into her working hours", schema: round },
	})
	async roundOf(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Query({ schema: query }) asked: z.output<typeof query>,
	): Promise<z.output<typeof round>> {
		const date = asked.date ?? localDateOf(this.clock.nowMs(), "UTC");
		const { stops, leftOver, atHome, startMs, endMs, backAtMs, home, km, ...rest } = await this.rounds.of(named.code, date);
		return {
			...rest,
			date,
			startAt: utcOf(startMs),
			backAt: utcOf(Math.round(backAtMs)),
			endAt: utcOf(endMs),
			home: { latitudeDeg: home.latitudeDeg, longitudeDeg: home.longitudeDeg },
			km: rounded(km, 2),
			stops: stops.map((stop) => ({
				...callOf(stop.call),
				km: rounded(stop.km, 2),
				arriveAt: utcOf(Math.round(stop.arriveAtMs)),
				leaveAt: utcOf(Math.round(stop.leaveAtMs)),
			})),
			leftOver: leftOver.map(callOf),
			atHome: [...atHome],
		};
	}
}

function callOf({ kind, code, latitudeDeg, longitudeDeg, isPlaceKnown, dueAtMs, tasks }: WorkPlace) {
	return { kind, code, latitudeDeg, longitudeDeg, isPlaceKnown, dueAt: utcOf(dueAtMs), tasks: [...tasks] };
}
