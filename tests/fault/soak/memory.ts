import { readFileSync } from "node:fs";
import type { Crew } from "./crew.js";

interface Sample {
	readonly atMs: number;
	readonly residentMb: number;
}

/** What each process holds, again and again, for as long as it is the same process. */
export class Memory {
	private readonly byPid = new Map<number, { readonly name: string; readonly samples: Sample[] }>();
	private readonly timer: NodeJS.Timeout;

	constructor(
		private readonly crew: Crew,
		everyMs: number,
	) {
		this.timer = setInterval(() => this.look(), everyMs);
		this.look();
	}

	stop(): void {
		clearInterval(this.timer);
		this.look();
	}

	/**
	 * Of each process that was there for the whole time.
	 * @param fromShare of the time, before which it was still being warmed up
	 */
	figures(fromShare = 0.25): { name: string; firstMb: number; lastMb: number; mostMb: number; slopeMbPerHour: number }[] {
		return [...this.byPid.values()]
			.filter(({ name }) => name.endsWith(" 1"))
			.map(({ name, samples }) => {
				const settled = samples.slice(Math.floor(samples.length * fromShare));
				return {
					name,
					firstMb: settled[0]?.residentMb ?? Number.NaN,
					lastMb: settled.at(-1)?.residentMb ?? Number.NaN,
					mostMb: Math.max(...samples.map(({ residentMb }) => residentMb)),
					slopeMbPerHour: slope(settled) * 3_600_000,
				};
			});
	}

	private look(): void {
		for (const { name, process: each } of this.crew.members) {
			const residentMb = residentMbOf(each.pid);
			if (residentMb === undefined) continue;
			const known = this.byPid.get(each.pid) ?? { name, samples: [] };
			this.byPid.set(each.pid, known);
			known.samples.push({ atMs: performance.now(), residentMb });
		}
	}
}

/** @returns MB a millisecond, by least squares */
function slope(samples: readonly Sample[]): number {
	const mean = (of: (sample: Sample) => number) => samples.reduce((sum, sample) => sum + of(sample), 0) / samples.length;
	const [at, mb] = [mean(({ atMs }) => atMs), mean(({ residentMb }) => residentMb)];
	const spread = mean(({ atMs }) => (atMs - at) ** 2);
	return spread === 0 ? 0 : mean(({ atMs, residentMb }) => (atMs - at) * (residentMb - mb)) / spread;
}

/** Source: proc(5), VmRSS */
function residentMbOf(pid: number): number | undefined {
	try {
		const kb = /^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, "utf8"))?.[1];
		return kb === undefined ? undefined : Number(kb) / 1024;
	} catch {
		return undefined;
	}
}
