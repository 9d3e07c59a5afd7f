import { databasesHere } from "../support/stores.js";
import { type Figure, median } from "./figure.js";
import { ProgrammeAtNight } from "./programme-at-night.js";
import { sizeOf } from "./programme-of-size.js";

const HOUSEHOLDS = Number(process.env["JARWATCH_TEST_BENCH_HOUSEHOLDS"] ?? 1_000_000);
const LARGE = sizeOf(HOUSEHOLDS);
const SMALL = sizeOf(10_000);
const NIGHTS = 3;

/** What a nightly sweep costs beside the bare work, and whether it costs more where more is on file. */
export async function run(): Promise<Figure[]> {
	const figures: Figure[] = [];
	for (const kind of databasesHere()) {
		const small = await ProgrammeAtNight.of(kind, SMALL);
		const large = await ProgrammeAtNight.of(kind, LARGE);
		const [onSmall, onLarge, plain] = [[], [], []] as [number[], number[], number[]];
		await small.night();
		await large.night();
		const afterNightMb = process.memoryUsage().rss / 1e6;
		for (let night = 0; night < NIGHTS; night++) {
			// As many items on the small one as take the clock's grain away.
			for (let more = 0; more < 3; more++) onSmall.push((await small.night()).eachMs);
			onLarge.push((await large.night()).eachMs);
			plain.push((await large.plainNight()).eachMs);
		}
		const among = `among ${LARGE.households.toLocaleString("en")} households on ${kind}`;
		figures.push(
			{
				name: `a due item of a night ${among}`,
				value: median(onLarge),
				floor: median(plain),
				unit: "ms",
				bar: "within 5x the bare work",
			},
			{
				name: `a due item of a night ${among}`,
				value: median(onLarge),
				floor: median(onSmall),
				unit: "ms",
				bar: `within 1.2x the same among ${SMALL.households.toLocaleString("en")}`,
			},
			{
				name: `memory of the process after such a night on ${kind}`,
				value: afterNightMb,
				floor: 300,
				unit: "MB",
				bar: "under 300 MB",
			},
		);
		await small.close();
		await large.close();
	}
	return figures;
}
