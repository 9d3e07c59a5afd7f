import type { IncidentKind } from "./incident-kind.js";
import { GeneratorOut } from "./kinds/generator-out.js";
import { UnansweredTask } from "./kinds/unanswered-task.js";
import { Undelivered } from "./kinds/undelivered.js";
import { UnfitWater } from "./kinds/unfit-water.js";
import { WeakBleach } from "./kinds/weak-bleach.js";

/** Every kind of incident. A new one is a file and a line. */
export const incidentKinds = (): IncidentKind[] => [
	new UnfitWater(),
	new WeakBleach(),
	new UnansweredTask(),
	new Undelivered(),
	new GeneratorOut(),
];
