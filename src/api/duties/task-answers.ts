import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { Answers } from "../../duties/answers.js";
import type { TaskAnswer } from "../../duties/kind.js";
import { InputError } from "../../errors/errors.js";
import { textOf } from "../../messages/texts.js";
import { Store } from "../../store/store.js";
import { Clock } from "../../time/clock.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, instant, utc, utcOf } from "../edge/fields.js";
import { idIfNamed } from "../edge/named.js";
import { taskNamed } from "./task-named.js";

const by = { byPersonCode: code.optional().meta({ description: "Who answers; without it, somebody at the office" }) };

const answerSchema = z
	.discriminatedUnion("answer", [
		z.strictObject({
			answer: z.literal("reading"),
			reading: z
				.string()
				.trim()
				.min(1)
				.max(40)
				.meta({ description: "As it was read on the kit; > before it where it was off the top of the scale" }),
			takenAt: instant.optional().meta({ description: "Without it: now" }),
			...by,
		}),
		z.strictObject({ answer: z.literal("done"), ...by }),
		z.strictObject({ answer: z.literal("cannot"), ...by }),
	])
	.meta({ id: "TaskAnswer" });

const takenSchema = z
	.strictObject({
		taskCode: z.string(),
		state: z.enum(["done", "cannot"]),
		outcome: z.record(z.string(), z.unknown()),
		nextDueAt: utc.nullable(),
	})
	.meta({ id: "TakenAnswer" });

@Controller()
export class TaskAnswersController {
	constructor(
		private readonly store: Store,
		private readonly answers: Answers,
		private readonly clock: Clock,
	) {}

	@Endpoint({
		method: "POST",
		path: "/tasks/:code/answer",
		access: "work",
		touches: ["task path.code"],
		by: "byPersonCode",
		summary: "Answers a task",
		description:
			"A task is answered once: the same answer sent again is refused with 409 and changes nothing, so that it is safe to send it again.",
		answer: { description: "Taken; the task is closed", schema: takenSchema },
	})
	async answerTask(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: answerSchema }) given: z.output<typeof answerSchema>,
	): Promise<z.output<typeof takenSchema>> {
		const task = await taskNamed(this.store, named.code);
		const byId = await idIfNamed(this.store, "person", given.byPersonCode, "/byPersonCode");
		const answered = await this.answers.take(task.id, answerOf(given, this.clock.nowMs()), byId ?? null);
		if (!answered.accepted) {
			const why = textOf(answered.tell.text, { code: task.code, ...answered.tell.fill }, "en", "en").text;
			throw new InputError("invalid-input", `The answer wasn't taken, and the task stays open. ${why}`, {
				problems: [{ at: given.answer === "reading" ? "/reading" : "/answer", message: "isn't one that this task takes" }],
			});
		}
		return {
			taskCode: task.code,
			state: answered.state,
			outcome: { ...answered.outcome },
			nextDueAt: answered.nextDueAtMs === null ? null : utcOf(answered.nextDueAtMs),
		};
	}
}

function answerOf(given: z.output<typeof answerSchema>, nowMs: number): TaskAnswer {
	return given.answer === "reading"
		? { kind: "reading", reading: given.reading, takenAtMs: given.takenAt ?? nowMs }
		: { kind: given.answer };
}
