import type { Assignments } from "../../assignment/assignments.js";
import type { Capacities } from "../../assignment/capacities.js";
import type { Decisions } from "../../assignment/decisions.js";
import type { Proposals } from "../../assignment/proposals.js";
import type { HandOvers } from "../../duties/hand-overs.js";
import type { TaskHands } from "../../duties/task-hands.js";
import type { MapTiles } from "../../settings/map-tiles.js";
import type { Batches } from "../../stock/batches.js";
import type { IncidentParts } from "../incidents/incident.js";

/** What a supervisor's pages are made of. */
export interface SupervisorParts extends IncidentParts {
	readonly batches: Batches;
	readonly assignments: Assignments;
	readonly proposals: Proposals;
	readonly decisions: Decisions;
	readonly handOvers: HandOvers;
	readonly taskHands: TaskHands;
	readonly capacities: Capacities;
	/** None: maps without pictures from elsewhere. */
	readonly mapTiles: MapTiles | undefined;
}
