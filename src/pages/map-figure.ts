import { type PlaceMap, placeMapSvg } from "../charts/place-map.js";
import type { MapTiles } from "../settings/map-tiles.js";
import { figure } from "./figure.js";
import { type Child, type Html, html } from "./html.js";
import type { Shown } from "./page.js";
import type { Words } from "./words.js";

/** What a map is about; how its scale and its north are said follows from the language. */
export type MapFacts = Omit<PlaceMap, "km" | "north" | "tileAddress">;

/** A map as part of a page, and what the page must let it load. */
export interface MapFigure {
	readonly figure: Html;
	readonly shown: Pick<Shown, "picturesFrom">;
}

/** @param caption beneath it; none: nothing */
export function mapFigure(facts: MapFacts, words: Words, tiles: MapTiles | undefined, caption?: Child): MapFigure {
	const chart = placeMapSvg({
		...facts,
		km: (km) => words("map.km", { km: words.number(km, 3) }),
		north: words("map.north"),
		tileAddress: tiles && (({ z, x, y }) => filled(tiles.template, { z, x, y })),
	});
	if (!chart) return { figure: html`<p>${words("map.noPlaces")}</p>${caption && html`<p>${caption}</p>`}`, shown: {} };
	return {
		figure: figure(chart, facts.title, caption, tiles && html`<bdi>${tiles.attribution}</bdi>`),
		shown: tiles ? { picturesFrom: tiles.origin } : {},
	};
}

function filled(template: string, numbers: Readonly<Record<"z" | "x" | "y", number>>): string {
	return template.replace(/\{([zxy])\}/g, (_, name: "z" | "x" | "y") => String(numbers[name]));
}
