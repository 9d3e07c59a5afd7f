import { type DatabaseKind, databasesHere } from "../support/stores.js";
import { type Figure, median } from "./figure.js";
import { ProgrammeAtNight } from "./programme-at-night.js";
import { sizeOf } from "./programme-of-size.js";

const LARGEST = Number(process.env["JARWATCH_TEST_BENCH_HOUSEHOLDS"] ?? 1_000_000);
const SIZES = [1000, 10_000, 100_000, 1_000_000].filter((households) => households <= LARGEST);
const FIXED_DUE_HOUSEHOLDS = 20;
const NIGHTS = 5;

interface Cost {
	readonly households: number;
	/** A whole night, ms. */
	readonly nightMs: number;
}

/**
 * How a night's cost grows with the programme, as the exponent b of cost = a * households^b: where 2 % of everything is due, 1 would be in
 * proportion to the work; where as much is due whatever the programme's size, 0 would be no growth at all.
 */
export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const kind of databasesHere()) {
		const [inProportion, fixed] = await costs(kind);
		const among = `${SIZES[0]?.toLocaleString("en")} to ${SIZES.at(-1)?.toLocaleString("en")} households on ${kind}`;
		figures.push(
			{
				...exponent(inProportion),
				name: `exponent of a night's cost from ${among}, 2 % due`,
				bar: "told: 1 is in proportion to what is due",
			},
			{ ...exponent(fixed), name: `exponent of a night's cost from ${among}, as much due in each`, bar: "told: 0 is no growth" },
		);
	}
	return figures;
}

async function costs(kind: DatabaseKind): Promise<[Cost[], Cost[]]> {
	const [inProportion, fixed]: [Cost[], Cost[]] = [[], []];
	for (const households of SIZES) {
		const programme = await ProgrammeAtNight.of(kind, sizeOf(households));
		const nightMs = async (every: number) => {
			const nights: number[] = [];
			for (let night = 0; night < NIGHTS; night++) {
				const { eachMs, due } = await programme.night(every);
				nights.push(eachMs * due);
			}
			return median(nights);
		};
		fixed.push({ households, nightMs: await nightMs(households / FIXED_DUE_HOUSEHOLDS) });
		inProportion.push({ households, nightMs: await nightMs(50) });
		await programme.close();
	}
	return [inProportion, fixed];
}

/** @returns the slope of the straight line through the logarithms that lies nearest by least squares */
function exponent(costs: readonly Cost[]): Pick<Figure, "value" | "floor" | "unit"> {
	const points = costs.map(({ households, nightMs }) => ({ x: Math.log(households), y: Math.log(nightMs) }));
	const mean = (of: "x" | "y") => points.reduce((sum, point) => sum + point[of], 0) / points.length;
	const [middleX, middleY] = [mean("x"), mean("y")];
	const along = points.reduce((sum, { x, y }) => sum + (x - middleX) * (y - middleY), 0);
	const value = along / points.reduce((sum, { x }) => sum + (x - middleX) ** 2, 0);
	return { value, floor: 1, unit: "" };
}
