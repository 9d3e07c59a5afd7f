// The kinds of due work of this room by their names, which are kept in rows: never changed once released.

/** Of a generator. */
export const CARE = "care for generator";
/** Of a run. */
export const RUN_AGAIN = "run again";
/** Of a generator. */
export const FIND_FAULT = "find the fault";
/** Of a battery. */
export const CHECK_BATTERY = "check battery";
/** Of a lot of reagent. */
export const RENEW_REAGENT = "renew reagent";
/** Of one tester's side of a comparison. */
export const COMPARE_TESTS = "compare tests";
