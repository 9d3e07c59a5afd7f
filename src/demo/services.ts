import type { INestApplicationContext } from "@nestjs/common";
import { Answers } from "../duties/answers.js";
import { Escalation } from "../duties/escalation.js";
import { DutyKinds } from "../duties/kinds.js";
import { Replies } from "../duties/replies.js";
import { Sweep } from "../duties/sweep.js";
import { WaterFacts } from "../duties/water-facts.js";
import { Dispatcher } from "../messages/dispatcher.js";
import { Store } from "../store/store.js";
import type { VirtualClock } from "../time/clock.js";

/** The program's own services: the demonstration adds nothing to them but people who act and answer. A new one is a line in both. */
export interface DemoServices {
	readonly store: Store;
	readonly clock: VirtualClock;
	readonly kinds: DutyKinds;
	readonly sweep: Sweep;
	readonly escalation: Escalation;
	readonly dispatcher: Dispatcher;
	readonly replies: Replies;
	readonly answers: Answers;
	readonly water: WaterFacts;
}

export function demoServices(program: INestApplicationContext, clock: VirtualClock): DemoServices {
	return {
		clock,
		store: program.get(Store),
		kinds: program.get(DutyKinds),
		sweep: program.get(Sweep),
		escalation: program.get(Escalation),
		dispatcher: program.get(Dispatcher),
		replies: program.get(Replies),
		answers: program.get(Answers),
		water: program.get(WaterFacts),
	};
}
