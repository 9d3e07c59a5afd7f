import type { Store } from "../../store/store.js";
import type { Coverage, CoverageAsked, CoverageReport } from "../coverage/coverage.js";
import { figuresAdx } from "./adx.js";
import { figuresCsv } from "./csv.js";
import { type AreaPlace, figuresGeoJson } from "./geojson.js";
import { figuresXlsx } from "./xlsx.js";

interface Format {
	readonly mediaType: string;
	readonly bytes: (report: CoverageReport, places: readonly AreaPlace[]) => string | Buffer;
}

/** How figures leave the program, by the ending of the file. */
export const FORMATS = {
	csv: { mediaType: "text/csv; charset=utf-8", bytes: figuresCsv },
	xlsx: { mediaType: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", bytes: figuresXlsx },
	geojson: { mediaType: "application/geo+json", bytes: figuresGeoJson },
	adx: { mediaType: "application/adx+xml", bytes: figuresAdx },
} as const satisfies Readonly<Record<string, Format>>;

export type FormatName = keyof typeof FORMATS;

/** Writes figures of coverage as files: the same question gives the same bytes, whoever asks, when and where. */
export class Exports {
	constructor(
		private readonly store: Store,
		private readonly coverage: Coverage,
	) {}

	/** @throws InputError as `Coverage.report` */
	async figures(format: FormatName, asked: CoverageAsked): Promise<Buffer> {
		const report = await this.coverage.report(asked);
		const bytes = FORMATS[format].bytes(report, await areaPlaces(this.store));
		return typeof bytes === "string" ? Buffer.from(bytes) : bytes;
	}
}

/** @returns where each area is drawn */
export function areaPlaces(store: Pick<Store, "query">): Promise<AreaPlace[]> {
	return store.query<AreaPlace>("SELECT code, latitude_deg, longitude_deg FROM area");
}
