import { LABEL_DOSE, ToldDoses, toldDose } from "../../src/simulation/told-doses.js";

describe("doses that people were told", () => {
	it("are read from the line of a text, each kind of water by itself", () => {
		expect(toldDose("20 L 7.5/15 mL")).toEqual({ clearMl: 7.5, cloudyMl: 15 });
		expect(toldDose("10 L 4/8 mL, 20 L 9/- mL")).toEqual({ clearMl: 9 });
		expect(toldDose("10 L 4/8 mL")).toEqual({});
	});

	it("hold until others are told, for a jar and for what was drawn from it; else those of the label do", () => {
		const told = new ToldDoses();
		expect(told.of(["J-1", "J"])).toEqual(LABEL_DOSE);
		told.hear("J", "20 L 8/16.5 mL");
		expect(told.of(["J-1", "J"])).toEqual({ clearMl: 8, cloudyMl: 16.5 });
		told.hear("J-1", "20 L 9.5/- mL");
		expect(told.of(["J-1", "J"])).toEqual({ clearMl: 9.5, cloudyMl: 16.5 });
	});
});
