import { Proposals } from "../../src/assignment/proposals.js";
import { Samples } from "../../src/audit/sample/samples.js";
import { putDistrict } from "./district.js";
import { putIncident, putWork, type ServedSite } from "./site.js";

/** Who looks at a page. */
export const SEEN_BY = { volunteer: "vol", supervisor: "sup", "health office": "off" } as const;

/** A page as it is looked at. */
export interface Look {
	/** As the router has it. */
	readonly path: string;
	readonly at: string;
	/** None: nobody need be signed in. */
	readonly by: (typeof SEEN_BY)[keyof typeof SEEN_BY] | undefined;
}

/** Puts work, a district, and one of each thing that a page shows by itself on file. @returns every page that is looked at */
export async function putOneOfEach(site: ServedSite): Promise<readonly Look[]> {
	const { world } = site;
	await putWork(world);
	await putDistrict(world);
	await world.store.work.run((tx) => tx.query("UPDATE task SET ladder_step = 1 WHERE kind = 'clean container'"));
	const { id: proposal, settled } = await world.the(Proposals).ask("A1");
	await settled;
	const aims = { kind: "classify", targetShare: 0.9, lowerShare: 0.5, maximumAlpha: 0.2, maximumBeta: 0.2 } as const;
	const sample = await world.the(Samples).draw({ areaCode: "A1", aims, method: { kind: "simple" }, auditorCodes: ["office"] });
	const [visited] = await world.store.query<{ code: string }>(
		"SELECT h.code FROM audit_visit v JOIN household h ON h.id = v.household_id WHERE v.sample_id = $1 ORDER BY v.place",
		[sample],
	);
	const incident = await putIncident(world, "cause");
	const [task] = (await world.tasks()).filter(({ state }) => state === "open");
	const named: Readonly<Record<string, string>> = {
		"/team/people/:code": "/team/people/amina",
		"/team/proposals/:id": `/team/proposals/${proposal}`,
		"/team/jars/:code": "/team/jars/FIG-J12",
		"/office/incidents/:id": `/office/incidents/${incident}`,
		"/team/incidents/:id": `/team/incidents/${incident}`,
		"/office/samples/:id": `/office/samples/${sample}`,
		"/office/samples/:id/visits/:household": `/office/samples/${sample}/visits/${visited!.code}`,
		"/me/tasks/:id": `/me/tasks/${task!.id}`,
	};
	return site.pages
		.filter(({ method, path }) => method === "GET" && path !== "/")
		.map(({ path, roles }) => {
			const at = named[path] ?? path;
			if (at.includes(":")) throw new Error(`say in this file which ${path} is looked at`);
			return { path, at, by: roles === "anybody" ? undefined : SEEN_BY[roles[0]!] };
		});
}
