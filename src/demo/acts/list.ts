import type { Acts } from "./act.js";
import { doseWater } from "./dose-water.js";

/** What goes on in the district without being asked. One more is a file beside this one and a line here. */
export const demoActs: readonly Acts[] = [doseWater];
