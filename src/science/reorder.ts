import { normalQuantile } from "./normal.js";
import { valueWithin } from "./valid-range.js";

/** What stock control is reckoned from; amounts in one unit, times in days. */
export interface Demand {
	/** Mean use a day, 0 or more. */
	readonly perDay: number;
	/** Standard deviation of a day's use, 0 or more. */
	readonly sdPerDay: number;
	/** From ordering to having, 0 or more. */
	readonly leadDays: number;
	/** Standard deviation of the lead time, days. */
	readonly sdLeadDays?: number;
}

/**
 * Standard deviation of the use during the lead time where days are independent of each other.
 * Source: √(L·σd² + d²·σL²): Heizer, Render and Munson, Operations Management, probabilistic models and safety stock.
 */
export function leadUseSd({ perDay, sdPerDay, leadDays, sdLeadDays = 0 }: Demand): number {
	return Math.sqrt(leadDays * sdPerDay ** 2 + perDay ** 2 * sdLeadDays ** 2);
}

/**
 * Safety stock for a chance of not running out: z times the standard deviation of what may happen until new stock is there.
 * @param serviceLevel 0.5 to 0.9999
 * @param sds standard deviations of independent causes, each 0 or more, in the stock's unit
 * @throws RangeError outside these ranges
 * Source: as `leadUseSd`; independent variances add.
 */
export function safetyStock(serviceLevel: number, ...sds: readonly number[]): number {
	valueWithin("service level", serviceLevel, 0.5, 0.9999);
	const sd = Math.sqrt(sds.reduce((sum, one) => sum + valueWithin("standard deviation", one, 0, Number.MAX_VALUE) ** 2, 0));
	return normalQuantile(serviceLevel) * sd;
}

/** @returns the stock at which it is ordered. Source: d·L + z·σ, as `leadUseSd` */
export function reorderPoint(demand: Demand, serviceLevel: number): number {
	return demand.perDay * demand.leadDays + safetyStock(serviceLevel, leadUseSd(demand));
}

/** Levels of a stock in the time that it lasts, all in one unit of time. */
export interface StockTimes {
	readonly lead: number;
	readonly safety: number;
	readonly review: number;
}

/**
 * Minimum and maximum of health supply chains, and what is ordered.
 *
 * @param use mean use a unit of time; `onHand` and `onOrder` in the stock's unit
 * @returns `minimum` and `maximum` in units of time; `stockFor` how long the stock lasts (Infinity without use); `order` 0 where the
 *   maximum is reached
 * Source: minimum = lead time + safety stock, maximum = minimum + review period, order = maximum - on hand - on order: slides on
 *   supply planning, Myanmar 2017; USAID | DELIVER, The Logistics Handbook, 2011, section 4.6.
 */
export function minMax(times: StockTimes, stock: { readonly use: number; readonly onHand: number; readonly onOrder?: number }) {
	const minimum = times.lead + times.safety;
	const maximum = minimum + times.review;
	const stockFor = stock.use > 0 ? stock.onHand / stock.use : Number.POSITIVE_INFINITY;
	const order = Math.max(0, maximum * stock.use - stock.onHand - (stock.onOrder ?? 0));
	return { minimum, maximum, stockFor, belowMinimum: stockFor < minimum, order };
}

/**
 * What must be held now so that an amount is left when it is used: a perishable decays until then.
 * @param useAt amount used at each step of time, the first step first
 * @param leftOfNow share of today's strength that is left at each step, above 0 to 1
 * Source: own derivation: an amount used when the share s is left has been 1/s of it now.
 */
export function heldForUse(useAt: readonly number[], leftOfNow: readonly number[]): number {
	return useAt.reduce(
		(sum, amount, step) => sum + amount / valueWithin("share that is left", leftOfNow[step] ?? Number.NaN, 1e-6, 1.000001),
		0,
	);
}
