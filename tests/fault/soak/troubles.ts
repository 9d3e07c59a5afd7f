import { FAULTS } from "../../support/faulty-line.js";
import type { Crew } from "./crew.js";

/** Something that goes wrong for a while. */
export interface Trouble {
	readonly name: string;
	begin(): Promise<void>;
	/** None: it is over as soon as it has begun. */
	readonly end?: () => Promise<void>;
}

/** Processes are killed, and the lines to PostgreSQL, Redis and the peer fail, each in each way once. */
export function killsAndLines(crew: Crew): Trouble[] {
	return [
		...["api 2", "scheduler 2", "worker 2"].map((name) => ({
			name: `${name} killed`,
			begin: async () => void (await crew.replace(name)),
		})),
		...Object.entries(crew.lines).flatMap(([peer, line]) =>
			FAULTS.map((fault) => ({
				name: `line to ${peer}: ${fault}`,
				begin: () => line.be(fault),
				end: () => line.be("none"),
			})),
		),
	];
}

/** PostgreSQL is restarted at every other turn, Redis emptied at each, or killed and back empty. */
export function restarts(crew: Crew): Trouble[] {
	return [
		together(postgresRestarts(crew, "fast"), redisEmptied(crew)),
		redisEmptied(crew),
		together(postgresRestarts(crew, "immediate"), redisEmptied(crew)),
		redisReplaced(crew),
	];
}

function postgresRestarts({ postgres }: Crew, mode: "fast" | "immediate"): Trouble {
	return {
		name: `PostgreSQL restarted (${mode})`,
		async begin() {
			await postgres.stop(mode);
			await postgres.start();
		},
	};
}

const redisEmptied = ({ redis }: Crew): Trouble => ({ name: "Redis emptied", begin: () => redis.empty() });

const redisReplaced = ({ redis }: Crew): Trouble => ({
	name: "Redis killed, and back empty",
	async begin() {
		await redis.kill();
		await redis.start();
	},
});

const together = (one: Trouble, other: Trouble): Trouble => ({
	name: `${one.name} and ${other.name}`,
	begin: async () => void (await Promise.all([one.begin(), other.begin()])),
});
