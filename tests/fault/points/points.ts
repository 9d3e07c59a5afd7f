import type { Notifier } from "../../../src/messages/notifier.js";
import type { UnitOfWork } from "../../../src/store/unit-of-work.js";

/**
 * Where a process could be gone, or an error come. A process reaches outside itself in two ways that count: by a unit of work, which the
 * database keeps or doesn't, and by a channel. Whatever can be half done lies between them, for claims and records are units of work too.
 * So points stand at these two ports, before and after, and beside the commit; the program itself knows nothing of them.
 */
export const MOMENTS = ["before work", "before commit", "after commit", "before send", "after send"] as const;

export interface Point {
	readonly moment: (typeof MOMENTS)[number];
	/** Who has called: file and function, or the channel. */
	readonly place: string;
	/** File and line. */
	readonly line: string;
}

/** Is told of each point as it is passed, and may throw, or end the process. */
export type Pass = (point: Point) => void;

/** Puts points at every unit of work of a store. */
export function watchWork(work: UnitOfWork, pass: Pass): void {
	const run = work.run.bind(work);
	const single = work.single.bind(work);
	work.run = async (unit) => {
		// What is started inside a unit of work joins it, and has no commit of its own.
		if (work.joined()) return run(unit);
		const at = caller();
		pass({ moment: "before work", ...at });
		const done = await run(async (tx) => {
			const result = await unit(tx);
			pass({ moment: "before commit", ...at });
			return result;
		});
		pass({ moment: "after commit", ...at });
		return done;
	};
	// On SQLite a single statement is run as a unit of work, and comes by there.
	if (work.kind === "sqlite") return;
	work.single = async (statement, parameters) => {
		if (work.joined()) return single(statement, parameters);
		const at = caller();
		pass({ moment: "before work", ...at });
		const done = await single(statement, parameters);
		pass({ moment: "after commit", ...at });
		return done as never;
	};
}

/** Puts points at every send of a channel. */
export function watchSends(notifier: Notifier, pass: Pass): void {
	const send = notifier.send.bind(notifier);
	const at = { place: `channel ${notifier.name}`, line: `channel ${notifier.name}` };
	notifier.send = async (message, signal) => {
		pass({ moment: "before send", ...at });
		const delivery = await send(message, signal);
		pass({ moment: "after send", ...at });
		return delivery;
	};
}

const FRAME = /at (?:async )?(?:(\S+) .*\()?.*\/src\/(.+)\.[jt]s:(\d+):\d+\)?$/;

function caller(): Pick<Point, "place" | "line"> {
	for (const frame of (new Error().stack ?? "").split("\n").slice(1)) {
		const [, name, file, line] = FRAME.exec(frame) ?? [];
		if (file === undefined || file === "store/unit-of-work") continue;
		return { place: `${file} ${name?.replace(/^.*\./, "") ?? "-"}`, line: `${file}:${line}` };
	}
	return { place: "outside", line: "outside" };
}
