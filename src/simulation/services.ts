import type { INestApplicationContext } from "@nestjs/common";
import { Answers } from "../duties/answers.js";
import { DoseNews } from "../duties/dose-news.js";
import { Escalation } from "../duties/escalation.js";
import { GeneratorRecords } from "../duties/generator-records.js";
import { DutyKinds } from "../duties/kinds.js";
import { Replies } from "../duties/replies.js";
import { ResidualReadings } from "../duties/residual-readings.js";
import { Sweep } from "../duties/sweep.js";
import { WaterFacts } from "../duties/water-facts.js";
import { Dispatcher } from "../messages/dispatcher.js";
import { Batches } from "../stock/batches.js";
import { Calendars } from "../stock/places.js";
import { StockMoves } from "../stock/stock-moves.js";
import { Store } from "../store/store.js";
import type { VirtualClock } from "../time/clock.js";

/** The program's own services, as every way of working uses them. */
export interface SimulatedServices {
	readonly clock: VirtualClock;
	readonly store: Store;
	readonly calendars: Calendars;
	readonly kinds: DutyKinds;
	readonly sweep: Sweep;
	readonly doseNews: DoseNews;
	readonly escalation: Escalation;
	readonly dispatcher: Dispatcher;
	readonly replies: Replies;
	readonly answers: Answers;
	readonly batches: Batches;
	readonly moves: StockMoves;
	readonly water: WaterFacts;
	readonly residuals: ResidualReadings;
	readonly generators: GeneratorRecords;
}

export function simulatedServices(program: INestApplicationContext, clock: VirtualClock): SimulatedServices {
	return {
		clock,
		store: program.get(Store),
		calendars: program.get(Calendars),
		kinds: program.get(DutyKinds),
		sweep: program.get(Sweep),
		doseNews: program.get(DoseNews),
		escalation: program.get(Escalation),
		dispatcher: program.get(Dispatcher),
		replies: program.get(Replies),
		answers: program.get(Answers),
		batches: program.get(Batches),
		moves: program.get(StockMoves),
		water: program.get(WaterFacts),
		residuals: program.get(ResidualReadings),
		generators: program.get(GeneratorRecords),
	};
}
