import { Controller } from "@nestjs/common";
import { z } from "zod";
import { checkSums } from "../../stock/sums.js";
import { Store } from "../../store/store.js";
import { Endpoint } from "../edge/endpoint.js";

const broken = z
	.strictObject({
		code: z.string(),
		of: z.enum(["jar", "item"]),
		what: z.string(),
		expected: z.number(),
		found: z.number(),
		unit: z.enum(["mL", "g", "drop", "piece", "lines"]),
	})
	.meta({ id: "BrokenSum" });

const sums = z
	.strictObject({
		holds: z.boolean().meta({ description: "Whether every sum holds" }),
		jars: z.number(),
		moves: z.number(),
		items: z.number(),
		broken: z.array(broken).meta({ description: "Each jar or item whose sum doesn't hold, and why" }),
	})
	.meta({ id: "StockSums" });

@Controller()
export class StockCheckController {
	constructor(private readonly store: Store) {}

	@Endpoint({
		method: "GET",
		path: "/stock/check",
		access: "oversee",
		touches: ["whole"],
		summary: "Checks every sum of the stock's books",
		answer: { description: "What was looked at, and each sum that doesn't hold", schema: sums },
	})
	async check(): Promise<z.output<typeof sums>> {
		const { broken: wrong, ...counts } = await checkSums(this.store);
		return { holds: wrong.length === 0, ...counts, broken: [...wrong] };
	}
}
