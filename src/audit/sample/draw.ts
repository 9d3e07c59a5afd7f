import { createHash } from "node:crypto";
import { InputError } from "../../errors/errors.js";
import { systematicDraw } from "../../science/cluster-sample.js";

/** A household of the list that a sample is drawn from. */
export interface FrameLine {
	readonly areaCode: string;
	readonly code: string;
}

/** A household that was drawn, in the order of the draw. */
export interface Drawn extends FrameLine {
	/** From 1; none in a simple sample. */
	readonly cluster: number | null;
}

/** Names of the ways of drawing, with their version: what has been drawn stays redrawable for good. */
export const METHODS = { simple: "sha256-order/1", twoStage: "pps-systematic-sha256/1" } as const;

const sha256 = (text: string): string => createHash("sha256").update(text, "utf8").digest("hex");

/** @returns texts in the order of their code units: that of their bytes, for all codes that letters and digits make */
const byText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/** @returns the list as text: a line each, sorted by area and code, area and household with a tab between them */
export function frameText(lines: readonly FrameLine[]): string {
	const texts = lines.map(({ areaCode, code }) => `${areaCode}\t${code}\n`);
	return texts.sort(byText).join("");
}

/** @returns the same as `sha256sum` of a file that holds the text */
export const frameSha256 = (text: string): string => sha256(text);

/** @returns households in the order in which chance brings them: by the SHA-256 of `<seed>:<code>`, in hexadecimal */
function inOrderOfChance(seed: string, lines: readonly FrameLine[]): FrameLine[] {
	return lines
		.map((line) => ({ line, key: sha256(`${seed}:${line.code}`) }))
		.sort((a, b) => byText(a.key, b.key))
		.map(({ line }) => line);
}

/**
 * Simple random sample without replacement: the first of all households in the order of chance.
 * Anybody who has the list and the seed draws the same: for each code the SHA-256 of seed, colon and code; sorted; the first so many.
 * @throws InputError `sample-too-large` with both numbers
 */
export function simpleDraw(seed: string, frame: readonly FrameLine[], size: number): Drawn[] {
	if (size > frame.length)
		throw tooLarge(`A sample of ${size} households is larger than the ${frame.length} there are.`, frame.length);
	return inOrderOfChance(seed, frame)
		.slice(0, size)
		.map((line) => ({ ...line, cluster: null }));
}

/**
 * Two-stage sample in which every household has the same chance: areas systematically with chances in proportion to their households, in
 * each the next so many in the order of chance. The areas stand sorted by code; the start is the first 13 hexadecimal digits of the
 * SHA-256 of `<seed>:start` over 16^13, times the interval. An area that is hit twice gives two clusters.
 * @throws InputError `sample-too-large` where an area has fewer households than are drawn from it
 */
export function twoStageDraw(
	seed: string,
	frame: readonly FrameLine[],
	wanted: { readonly clusters: number; readonly perCluster: number },
): Drawn[] {
	const { clusters, perCluster } = wanted;
	const byArea = new Map<string, FrameLine[]>();
	for (const line of frame) {
		const beside = byArea.get(line.areaCode) ?? [];
		beside.push(line);
		byArea.set(line.areaCode, beside);
	}
	const areas = [...byArea.keys()].sort(byText);
	if (clusters * perCluster > frame.length)
		throw tooLarge(
			`${clusters} clusters of ${perCluster} households are ${clusters * perCluster}, more than the ${frame.length} there are.`,
			frame.length,
		);
	const sizes = areas.map((area) => (byArea.get(area) as FrameLine[]).length);
	const startShare = Number.parseInt(sha256(`${seed}:start`).slice(0, 13), 16) / 16 ** 13;
	const { drawn } = systematicDraw({ sizes, draws: clusters, startShare: Math.min(startShare, 1 - 1e-12) });
	const taken = new Map<string, FrameLine[]>();
	return drawn.flatMap((at, i) => {
		const area = areas[at] as string;
		const left = taken.get(area) ?? inOrderOfChance(seed, byArea.get(area) as FrameLine[]);
		if (left.length < perCluster)
			throw smallArea(area, sizes[at] as number, drawn.filter((other) => other === at).length, perCluster);
		taken.set(area, left.slice(perCluster));
		return left.slice(0, perCluster).map((line) => ({ ...line, cluster: i + 1 }));
	});
}

function smallArea(area: string, households: number, hits: number, perCluster: number): InputError {
	return tooLarge(
		`Area ${area} was drawn ${hits === 1 ? "once" : `${hits} times`} for ${perCluster} households and has ${households}: fewer households a cluster, or a simple sample, would be right.`,
		Math.max(1, Math.floor(households / hits)),
	);
}

function tooLarge(message: string, most: number): InputError {
	return new InputError("sample-too-large", message, { problems: [{ at: "/aims", message: `must lead to at most ${most}` }] });
}
