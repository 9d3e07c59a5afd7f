import { z } from "zod";
import { type PHClass, pHClassOf } from "../../science/contact-time.js";

/** What may have been measured in a container's water; what wasn't is taken for granted and said so. */
export const measuredInWater = {
	waterTemperatureC: z.number().min(0).max(45).optional().meta({ description: "Without it: the season's mean of the place" }),
	ph: z.number().min(4).max(11).optional().meta({ description: "Without it: taken as under 8" }),
};

/** @returns the same as the rules take it: from pH 8 up the longer wait and the higher residual hold */
export function conditionsOf({ waterTemperatureC, ph }: { waterTemperatureC?: number | undefined; ph?: number | undefined }): {
	waterTemperatureC?: number;
	pHClass?: PHClass;
} {
	return {
		...(waterTemperatureC === undefined ? {} : { waterTemperatureC }),
		...(ph === undefined ? {} : { pHClass: pHClassOf(ph) }),
	};
}
