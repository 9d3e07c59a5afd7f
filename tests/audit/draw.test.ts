import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type FrameLine, frameSha256, frameText, simpleDraw, twoStageDraw } from "../../src/audit/sample/draw.js";

const frame: FrameLine[] = Array.from({ length: 90 }, (_, i) => ({
	areaCode: ["EAST", "NORTH", "WEST"][i % 7 < 4 ? 0 : i % 2 ? 1 : 2] as string,
	code: `HH-${String(i).padStart(3, "0")}`,
}));

describe("a random draw", () => {
	// As README.md tells anybody to draw it again: the list on a file, a shell, sha256sum and sort. None of our code takes part.
	it("is drawn again by a shell from the list and the seed alone", () => {
		const folder = mkdtempSync(join(tmpdir(), "jarwatch-draw-"));
		const file = join(folder, "frame.tsv");
		writeFileSync(file, frameText(frame));
		const script = `cut -f2 ${file} | while read -r code; do printf '%s %s\\n' "$(printf '%s:%s' "$SEED" "$code" | sha256sum | cut -c1-64)" "$code"; done | LC_ALL=C sort | head -n "$N" | cut -d' ' -f2`;
		const redrawn = execFileSync("sh", ["-c", script], {
			encoding: "utf8",
			env: { ...process.env, SEED: "dice-4-1-6", N: "19" },
		});
		expect(redrawn.trim().split("\n")).toEqual(simpleDraw("dice-4-1-6", frame, 19).map(({ code }) => code));
		const sum = execFileSync("sha256sum", [file], { encoding: "utf8" }).slice(0, 64);
		expect(frameSha256(frameText(frame))).toBe(sum);
		rmSync(folder, { recursive: true });
	});

	it("doesn't depend on the order of the list, and is another one by another seed", () => {
		const codes = (seed: string, of: readonly FrameLine[]) => simpleDraw(seed, of, 10).map(({ code }) => code);
		expect(codes("a", [...frame].reverse())).toEqual(codes("a", frame));
		expect(codes("b", frame)).not.toEqual(codes("a", frame));
		expect(frameText([...frame].reverse())).toBe(frameText(frame));
	});

	it("gives every household the same chance: in 3000 draws of 18 of 90 each comes 600 times, give or take five standard deviations", () => {
		for (const draw of [
			(seed: string) => simpleDraw(seed, frame, 18),
			(seed: string) => twoStageDraw(seed, frame, { clusters: 6, perCluster: 3 }),
		]) {
			const counts = new Map<string, number>();
			for (let seed = 0; seed < 3000; seed++)
				for (const { code } of draw(`seed ${seed}`)) counts.set(code, (counts.get(code) ?? 0) + 1);
			const five = 5 * Math.sqrt(3000 * 0.2 * 0.8);
			for (const { code } of frame) expect(Math.abs((counts.get(code) ?? 0) - 600)).toBeLessThan(five);
		}
	});

	it("in two stages takes areas by their households, as many from each, nobody twice", () => {
		const drawn = twoStageDraw("x", frame, { clusters: 6, perCluster: 5 });
		expect(new Set(drawn.map(({ code }) => code)).size).toBe(30);
		for (let cluster = 1; cluster <= 6; cluster++) {
			const members = drawn.filter((one) => one.cluster === cluster);
			expect(members).toHaveLength(5);
			expect(new Set(members.map(({ areaCode }) => areaCode)).size).toBe(1);
		}
		const share = frame.filter(({ areaCode }) => areaCode === "EAST").length / frame.length;
		const hits = new Set(drawn.filter(({ areaCode }) => areaCode === "EAST").map(({ cluster }) => cluster)).size;
		// Systematic: never more than one away from its share.
		expect(Math.abs(hits - 6 * share)).toBeLessThan(1);
	});

	it("of more than there are is refused with both numbers", () => {
		expect(() => simpleDraw("x", frame, 91)).toThrow("A sample of 91 households is larger than the 90 there are.");
		expect(() => twoStageDraw("x", frame, { clusters: 10, perCluster: 10 })).toThrow(
			"10 clusters of 10 households are 100, more than the 90 there are.",
		);
		const lopsided = [...frame.slice(0, 60).map((line) => ({ ...line, areaCode: "BIG" })), { areaCode: "SMALL", code: "S1" }];
		const refusals = Array.from({ length: 400 }, (_, i) => {
			try {
				twoStageDraw(`s${i}`, lopsided, { clusters: 2, perCluster: 20 });
				return "";
			} catch (error) {
				return (error as Error).message;
			}
		});
		expect(refusals.find((message) => message !== "")).toBe(
			"Area SMALL was drawn once for 20 households and has 1: fewer households a cluster, or a simple sample, would be right.",
		);
	});
});
