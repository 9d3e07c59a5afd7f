/** One figure beside the floor that it is measured against, in the same run. */
export interface Figure {
	readonly name: string;
	readonly value: number;
	readonly floor: number;
	readonly unit: string;
	/** What is promised. */
	readonly bar: string;
}

export function median(values: readonly number[]): number {
	const sorted = [...values].sort((a, b) => a - b);
	return sorted[Math.floor(sorted.length / 2)] as number;
}
