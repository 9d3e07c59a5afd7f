import { EARTH_KM, mercator } from "../../src/science/mercator.js";
import published from "../published/map.json" with { type: "json" };
import { expectNear } from "./near.js";

describe("a Mercator map", () => {
	const { x, y, tolerance, middleDeg, ...at } = published.mercator;

	it("puts 35° N, 75° W at x = 1.8325957, y = 0.6528366 from 180° W (Snyder 1987)", () => {
		const place = mercator(at, middleDeg);
		expectNear(place.x, x, tolerance);
		expectNear(place.y, y, tolerance);
	});

	it("shows a degree at the equator as 111.195 km either way", () => {
		const { degree } = published;
		expectNear(mercator({ latitudeDeg: 0, longitudeDeg: 1 }, 0).x * EARTH_KM, degree.km, degree.tolerance);
		// Half a degree to either side: lengths grow by less than a ten-thousandth there.
		const north = mercator({ latitudeDeg: 0.5, longitudeDeg: 0 }, 0).y * 2 * EARTH_KM;
		expectNear(north, degree.km, 0.003);
	});

	it("keeps a district whole that lies on the date line", () => {
		expectNear(mercator({ latitudeDeg: -17, longitudeDeg: -179.9 }, 179.9).x, (0.2 * Math.PI) / 180, 1e-12);
	});
});
