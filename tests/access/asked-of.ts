import type { SubjectKind } from "../../src/access/subjects.js";
import type { KnownRoute } from "../../src/api/edge/routes.js";
import { type Asked, KEY } from "../api/served.js";
import type { Names } from "./parts.js";
import { SAMPLES } from "./samples.js";

/** What a route that takes a change is asked with, by its sample and by what it says that it touches. */
export function askedOf({ method, pattern, touches }: KnownRoute, names: Names): { key: string; url: string; asked: Asked } {
	const key = `${method} ${pattern}`;
	const sample = SAMPLES[key]?.(names) ?? {};
	const given: Record<string, string> = { ...sample.parameters };
	for (const touch of touches) {
		const [, kind, at] = /^([a-z ]+) path\.(\w+)$/.exec(touch) ?? [];
		if (kind !== undefined && at !== undefined) given[at] ??= names[kind as SubjectKind];
	}
	return {
		key,
		url: pattern.replace(/:(\w+)/g, (_, name: string) => encodeURIComponent(given[name] ?? "none")),
		asked: {
			headers: { authorization: `Bearer ${KEY}`, ...sample.headers },
			...(sample.body && { body: sample.body }),
		},
	};
}
