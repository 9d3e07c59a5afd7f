import { appendFile, open } from "node:fs/promises";
import type { CheckedRow } from "./checked.js";

/**
 * Checked rows that wait on disk until the whole file is found to be right: writing then takes as little of the
 * writer's time as it can, and never more memory than some hundreds of rows.
 */
export class RowsSetAside {
	/** How many bytes each addition takes: read back by position, because reading by lines runs ahead of whoever asks. */
	private readonly sizes: number[] = [];

	/** @param path of a file that is this one's alone */
	constructor(private readonly path: string) {}

	async add(rows: readonly CheckedRow[]): Promise<void> {
		const bytes = Buffer.from(JSON.stringify(rows));
		await appendFile(this.path, bytes, { mode: 0o600 });
		this.sizes.push(bytes.length);
	}

	/** @returns the rows as they were added, from the first on, however often it is asked for */
	async *chunks(): AsyncGenerator<CheckedRow[]> {
		const file = await open(this.path);
		try {
			let position = 0;
			for (const size of this.sizes) {
				const { buffer } = await file.read(Buffer.alloc(size), 0, size, position);
				position += size;
				yield JSON.parse(buffer.toString()) as CheckedRow[];
			}
		} finally {
			await file.close();
		}
	}
}
