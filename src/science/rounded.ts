/**
 * A figure as it is shown or kept beside others.
 * @param decimals 0 to 15
 * @returns the nearest value of so many decimals; halves go up
 */
export function rounded(value: number, decimals: number): number {
	const scale = 10 ** decimals;
	return Math.round(value * scale) / scale;
}
