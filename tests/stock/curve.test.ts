import { DAY_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, settle } from "../support/world.js";

onEachDatabase("a batch told in full", (kind) => {
	it("lets others have their turn while the 121 points of its curve are reckoned: every 4 points at the latest", async () => {
		const world = await newWorld(kind);
		try {
			await settle(world);
			await aBatch(world, "B1", { wall: "translucent", exposure: "shade", litAreaM2: 0.01 });
			world.clock.advance(150 * DAY_MS);
			let turns = 0;
			let told = false;
			const another = () => {
				turns++;
				if (!told) setImmediate(another);
			};
			const detail = world.batches.detail("B1").finally(() => {
				told = true;
			});
			setImmediate(another);
			expect((await detail).curve).toHaveLength(121);
			expect(turns).toBeGreaterThanOrEqual(30);
		} finally {
			await world.remove();
		}
	});
});
