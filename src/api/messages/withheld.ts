import { Controller, Param } from "@nestjs/common";
import { z } from "zod";
import { Withheld } from "../../duties/withheld.js";
import { Endpoint } from "../edge/endpoint.js";

const byId = z.strictObject({ id: z.string().regex(/^[0-9a-z]{1,40}$/, "is an id of small letters and digits") });

const released = z.strictObject({ messages: z.int() }).meta({ id: "Released" });

@Controller()
export class WithheldController {
	constructor(private readonly withheld: Withheld) {}

	@Endpoint({
		method: "POST",
		path: "/messages/:id/release",
		access: "lead",
		touches: ["message path.id"],
		summary: "Lets a message go that was withheld after a backup came back",
		answer: { description: "It goes in its person's time", schema: released },
	})
	async releaseMessage(@Param({ schema: byId }) { id }: z.output<typeof byId>): Promise<z.output<typeof released>> {
		await this.withheld.release(id);
		return { messages: 1 };
	}

	@Endpoint({
		method: "POST",
		path: "/messages/release-withheld",
		access: "administer",
		touches: ["whole"],
		summary: "Lets every message go that was withheld after a backup came back",
		answer: { description: "How many go", schema: released },
	})
	async releaseWithheld(): Promise<z.output<typeof released>> {
		return { messages: await this.withheld.releaseAll() };
	}
}
