import { InputError } from "../../errors/errors.js";

/**
 * Numbers that are each within their range may together be none that the model takes: a tank that is lit through a pinhole,
 * a colour that no jar could give at its dilution. The unit of work has kept nothing.
 * @param at JSON Pointer of the field to look at first
 * @param advice what to look at, for the refusal
 * @throws InputError for a RangeError; any other error as it is
 */
export function refusalOutsideModel(at: string, advice: string): (error: unknown) => never {
	return (error) => {
		if (!(error instanceof RangeError)) throw error;
		throw new InputError("invalid-input", `Nothing was kept: ${advice}.`, { problems: [{ at, message: advice }], cause: error });
	};
}
