import { z } from "zod";

/** What a programme has chosen for its stock of bleach, and of what bleach is made and tested with. */
export const stockRules = z.strictObject({
	/** Chance that a volunteer's stock lasts until the next bleach is in her hands. Common practice, no source: 95 %. */
	serviceLevel: z.number().min(0.5).max(0.999).default(0.95),
	/** From the message to the bleach in her hands, days. Own choice. */
	collectLeadDays: z.number().positive().max(60).default(2),
	/** Between two looks at a stock; the program looks at once when a fact changes. Own choice: one day for what it isn't told. */
	reviewDays: z.number().nonnegative().max(60).default(1),
	/** A collection is to last for so many days beyond that: what she orders up to. Own choice; home-made bleach is made weekly. */
	supplyDays: z.number().positive().max(60).default(7),
	/** Collections are asked for in whole steps of so many mL. Own choice. */
	collectStepMl: z.number().int().min(1).max(5000).default(100),
	/** From the message to bleach at the production point, days. Own choice. */
	makeLeadDays: z.number().positive().max(60).default(2),
	/** A plan looks at the wants of so many days. Own choice: a week. */
	planDays: z.number().positive().max(60).default(7),
	/** What a production point keeps for itself and for who comes without being asked, days of the wants it serves. Own choice. */
	pointReserveDays: z.number().nonnegative().max(30).default(1),
	/** WHO's provisional guideline value for chlorate in drinking-water, mg/L; 0.25 in the EU. */
	chlorateMgPerL: z.number().min(0.05).max(5).default(0.7),
	/** Weak bleach is used up on surfaces within so many days after it was set aside, or poured away. Own choice. */
	weakUseDays: z.number().positive().max(60).default(14),
	/** Drops of reagent for one test of a jar; the kit's sheet comes first. Common practice, no source. */
	reagentDropsPerTest: z.number().int().min(1).max(100).default(5),
	/** Months of stock in the way of health supply chains, said in days: what isn't perishable is ordered for longer. Own choice. */
	items: z
		.strictObject({
			leadDays: z.number().positive().max(365),
			safetyDays: z.number().nonnegative().max(365),
			reviewDays: z.number().positive().max(365),
			/** Asked for anew so many days before it expires. */
			expiryDays: z.number().nonnegative().max(365),
		})
		.default({ leadDays: 14, safetyDays: 14, reviewDays: 30, expiryDays: 30 }),
});

export type StockRules = z.output<typeof stockRules>;
