import { Body, Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { TaskHands } from "../../duties/task-hands.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";
import { byCode, code, utc, utcOf } from "../edge/fields.js";
import { idIfNamed, idNamed } from "../edge/named.js";
import { taskNamed } from "./task-named.js";

const by = { byPersonCode: code.optional().meta({ description: "Who says so; without it, somebody at the office" }) };
const acknowledging = z.strictObject(by).meta({ id: "TaskAcknowledgement" });
const handingOver = z
	.strictObject({ toPersonCode: code.meta({ description: "Who does it from now on" }), ...by })
	.meta({ id: "TaskHandOver" });
const acknowledged = z.strictObject({ taskCode: z.string(), acknowledgedAt: utc }).meta({ id: "AcknowledgedTask" });
const handedOver = z.strictObject({ taskCode: z.string(), assigneeCode: z.string() }).meta({ id: "HandedOverTask" });

@Controller()
export class TaskHandsController {
	constructor(
		private readonly store: Store,
		private readonly hands: TaskHands,
	) {}

	@Endpoint({
		method: "POST",
		path: "/tasks/:code/acknowledge",
		access: "lead",
		touches: ["task path.code"],
		by: "byPersonCode",
		summary: "Takes note of a task: nobody is reminded of it any more",
		description: "The task stays open. Said again, it changes nothing.",
		answer: { description: "Since when it is acknowledged", schema: acknowledged },
	})
	async acknowledgeTask(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: acknowledging }) { byPersonCode }: z.output<typeof acknowledging>,
	): Promise<z.output<typeof acknowledged>> {
		const task = await taskNamed(this.store, named.code);
		const byId = await idIfNamed(this.store, "person", byPersonCode, "/byPersonCode");
		return { taskCode: task.code, acknowledgedAt: utcOf(await this.hands.acknowledge(task.id, byId ?? null)) };
	}

	@Endpoint({
		method: "POST",
		path: "/tasks/:code/hand-over",
		access: "lead",
		touches: ["task path.code", "person body.toPersonCode"],
		by: "byPersonCode",
		summary: "Gives a task to another person; she and who had it are told",
		answer: { description: "Whose it is now; its code stays", schema: handedOver },
	})
	async handOverTask(
		@Param({ schema: byCode }) named: z.output<typeof byCode>,
		@Body({ schema: handingOver }) { toPersonCode, byPersonCode }: z.output<typeof handingOver>,
	): Promise<z.output<typeof handedOver>> {
		const task = await taskNamed(this.store, named.code);
		const toId = await idNamed(this.store, "person", toPersonCode, "/toPersonCode");
		const byId = await idIfNamed(this.store, "person", byPersonCode, "/byPersonCode");
		await this.hands.handOver(task.id, toId, byId ?? null);
		return { taskCode: task.code, assigneeCode: toPersonCode };
	}
}
