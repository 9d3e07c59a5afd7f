import { readFileSync } from "node:fs";
import { join } from "node:path";
import { load, YAML11_SCHEMA } from "js-yaml";

interface Service {
	readonly environment: Readonly<Record<string, string>>;
	readonly command?: readonly string[];
	readonly deploy?: { readonly replicas: number };
}

/**
 * The services of docker-compose.yml with what stands for variables put in, as the reference of Compose says: `${NAME:-default}`,
 * and `${NAME:?message}`, which refuses where there is none.
 * Source: Docker, Compose file reference, "Interpolation"; the merge key `<<` is YAML 1.1's.
 * @param variables what a file named .env would hold
 */
export function composeServices(variables: Readonly<Record<string, string>>): Readonly<Record<string, Service>> {
	const text = readFileSync(join(__dirname, "../../docker-compose.yml"), "utf8");
	const file = load(text, { schema: YAML11_SCHEMA }) as { services: Record<string, Service> };
	return putIn(file.services, variables) as Record<string, Service>;
}

function putIn(value: unknown, variables: Readonly<Record<string, string>>): unknown {
	if (typeof value === "string")
		return value.replace(/\$\{(\w+)(?::([-?])([^}]*))?\}/g, (_, ...found) => chosen(found, variables));
	if (Array.isArray(value)) return value.map((each) => putIn(each, variables));
	if (typeof value !== "object" || value === null) return value;
	return Object.fromEntries(Object.entries(value).map(([key, each]) => [key, putIn(each, variables)]));
}

function chosen([name, manner, otherwise]: string[], variables: Readonly<Record<string, string>>): string {
	const given = variables[name as string];
	if (given) return given;
	if (manner === "?") throw new Error(`${name}: ${otherwise}`);
	return manner === "-" ? (otherwise as string) : "";
}
