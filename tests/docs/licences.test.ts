import { readFileSync } from "node:fs";
import { join } from "node:path";

/**
 * What may go out with the service: permissive licences, and MPL-2.0, whose duty ends at its own files, which are left unchanged.
 * Names: SPDX License List (The Linux Foundation), identifiers as packages state them.
 */
const SHIPPED = new Set([
	...["0BSD", "Apache-2.0", "BlueOak-1.0.0", "BSD-2-Clause", "BSD-3-Clause", "BSL-1.0", "ISC", "MIT", "MIT-0", "Python-2.0"],
	"MPL-2.0",
]);
/** What only builds and tests may be under besides. */
const BESIDES = new Set(["CC-BY-4.0", "CC0-1.0"]);

interface Package {
	readonly license?: string;
	readonly dev?: boolean;
	readonly link?: boolean;
	readonly integrity?: string;
}

/** Source: SPDX specification 2.3 (2022), annex D: AND binds more strongly than OR. Nested brackets are refused. */
function mayUse(expression: string | undefined, isForBuilds: boolean): boolean {
	const plain = (expression ?? "").replace(/^\((.*)\)$/, "$1");
	if (plain === "" || /[()]/.test(plain)) return false;
	const isTaken = (name: string) => SHIPPED.has(name) || (isForBuilds && BESIDES.has(name));
	return plain.split(" OR ").some((choice) => choice.split(" AND ").every(isTaken));
}

function refused(packages: Readonly<Record<string, Package>>): string[] {
	return Object.entries(packages)
		.filter(
			([path, one]) =>
				path !== "" && !one.link && !(mayUse(one.license, one.dev === true) && one.integrity?.startsWith("sha512-")),
		)
		.map(([path, { license, integrity }]) => `${path}: ${license ?? "no licence"}, ${integrity ?? "no digest"}`);
}

describe("what the lock file installs", () => {
	const { packages } = JSON.parse(readFileSync(join(__dirname, "../../package-lock.json"), "utf8")) as {
		packages: Record<string, Package>;
	};

	it("is all under a licence that is on the list, each held by its SHA-512", () => {
		expect(Object.keys(packages).length).toBeGreaterThan(500);
		expect(refused(packages)).toEqual([]);
	});

	it.each([
		["MIT", false, true],
		["(MIT OR GPL-3.0-only)", false, true],
		["Apache-2.0 AND BSL-1.0", false, true],
		["MIT AND GPL-3.0-only", false, false],
		["MIT OR GPL-2.0-only AND GPL-3.0-only", false, true],
		["GPL-3.0-or-later", true, false],
		["AGPL-3.0-only", false, false],
		["CC-BY-4.0", false, false],
		["CC-BY-4.0", true, true],
		["SEE LICENSE IN LICENSE.md", false, false],
		[undefined, true, false],
	])("would refuse or take %s, only for builds: %s, to be taken: %s", (license, dev, isTaken) => {
		const found = refused({ one: { ...(license && { license }), dev, integrity: "sha512-invented" } });
		expect(found).toEqual(isTaken ? [] : [`one: ${license ?? "no licence"}, sha512-invented`]);
	});

	it("would refuse what has no digest", () => {
		expect(refused({ one: { license: "MIT" } })).toEqual(["one: MIT, no digest"]);
	});
});
