/** Doses that somebody was told for one jar, mL into a container of 20 L. */
export interface ToldDose {
	readonly clearMl: number;
	readonly cloudyMl: number;
}

/** What a label of 0.5 % asks for, mL into 20 L. Source: 1.875 and 3.75 mg/L, Lantagne 2008, J. AWWA 100(8):106-119; mL = mg/L·L/(g/L). */
export const LABEL_DOSE: ToldDose = { clearMl: 7.5, cloudyMl: 15 };

/**
 * @param doses as a text tells them, e.g. "20 L 7.5/15 mL", or "20 L 9/- mL" where none is told for cloudy water
 * @returns the doses for 20 L, as far as they are told
 */
export function toldDose(doses: string): Partial<ToldDose> {
	const [, clear, cloudy] = /(?:^|[ ,;:])20 L ([\d.]+|-)\/([\d.]+|-) mL/.exec(doses) ?? [];
	return {
		...(clear !== undefined && clear !== "-" ? { clearMl: Number(clear) } : {}),
		...(cloudy !== undefined && cloudy !== "-" ? { cloudyMl: Number(cloudy) } : {}),
	};
}

/** What volunteers and operators go by: the dose that was told last of each jar, or written on what it was drawn from. */
export class ToldDoses {
	private readonly byJar = new Map<string, Partial<ToldDose>>();
	private readonly timesByHousehold = new Map<string, number>();

	/** @param jarCode code of the jar that a text tells of */
	hear(jarCode: string, doses: string): void {
		this.byJar.set(jarCode, { ...this.byJar.get(jarCode), ...toldDose(doses) });
	}

	/** A household is told to give so many times what is written on the jar. */
	hearHousehold(householdCode: string, times: number): void {
		this.timesByHousehold.set(householdCode, times);
	}

	/** @returns how many times the jar's dose a household gives; 1 where it was told nothing else */
	timesOf(householdCode: string): number {
		return this.timesByHousehold.get(householdCode) ?? 1;
	}

	/** @param codes of a jar and of those that it was drawn from, in this order. @returns what isn't told of any of them: as the label has it */
	of(codes: readonly string[]): ToldDose {
		const known = codes.flatMap((code) => this.byJar.get(code) ?? []);
		return {
			clearMl: known.find(({ clearMl }) => clearMl !== undefined)?.clearMl ?? LABEL_DOSE.clearMl,
			cloudyMl: known.find(({ cloudyMl }) => cloudyMl !== undefined)?.cloudyMl ?? LABEL_DOSE.cloudyMl,
		};
	}
}
