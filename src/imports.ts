import { capacityImport } from "./assignment/capacity-import.js";
import { assignmentImport } from "./assignment/list.js";
import { generatorImport } from "./generators/import.js";
import { batteryImport, kitLotImport } from "./generators/kept-imports.js";
import { runImport } from "./generators/run-import.js";
import { areaImport } from "./programme/import/areas.js";
import { containerImport } from "./programme/import/containers.js";
import { holidayImport } from "./programme/import/holidays.js";
import { householdImport } from "./programme/import/households.js";
import { personImport } from "./programme/import/people.js";
import { batchImport } from "./stock/import.js";
import { habitsImport } from "./water/habits-import.js";

/** Every kind of file that can be imported, in an order in which none names what comes after it. */
export const importKinds = [
	areaImport,
	holidayImport,
	personImport,
	capacityImport,
	householdImport,
	containerImport,
	habitsImport,
	generatorImport,
	batchImport,
	assignmentImport,
	batteryImport,
	runImport,
	kitLotImport,
];
