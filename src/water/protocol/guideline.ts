import { residualAfterContactMgPerL, SHORTEST_CONTACT_MINUTES } from "../../science/contact-time.js";
import { POINT_OF_USE_MG_PER_L } from "../../science/residual.js";
import { waterClasses } from "../../science/water-classes.js";

/** The values that every protocol is held against; each is a published one. */
export const guideline = {
	/** Health guideline value of chlorine in drinking water. Source: WHO Guidelines for drinking-water quality, chemical fact sheet. */
	mostMgPerL: 5,
	/** Source: WHO Guidelines, 2nd ed. vol. 2 (1996): 0.5 mg/L after 30 min at pH under 8. */
	leastAfterContactMgPerL: residualAfterContactMgPerL("belowEight"),
	/** Source: MSF, Management of a cholera epidemic, appendix 16: 1.0 mg/L over pH 8. */
	leastAfterContactAtPH8MgPerL: residualAfterContactMgPerL("aboveEight"),
	/** Source: WHO Guidelines; Lantagne 2008, J AWWA 100(8):106. */
	leastAtUseMgPerL: POINT_OF_USE_MG_PER_L,
	contactMinutes: SHORTEST_CONTACT_MINUTES,
	/** Source: Lantagne 2008; Wilhelm et al. 2018, J Water Health 16:112. */
	useWithinHours: { clear: waterClasses.clear.useWithinHours, cloudy: waterClasses.cloudy.useWithinHours },
	/** Over this no household dose was reliable. Source: Mohamed et al. 2015, J Water Health 13:544. */
	mostTurbidNtu: 100,
	/** From about here some DPD kits bleach out and show nothing. Source: kit manuals, 8 to 10 mg/L. */
	kitsMayBleachFromMgPerL: 8,
} as const;
