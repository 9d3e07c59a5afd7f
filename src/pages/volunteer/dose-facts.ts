import { currentPolicy } from "../../programme/policy.js";
import type { Turbidity } from "../../programme/rows.js";
import { climateOfDay, type MonthlyClimate } from "../../science/climate.js";
import type { Measure } from "../../science/measures.js";
import type { Calendars } from "../../stock/places.js";
import type { Store } from "../../store/store.js";
import { dayOfYear } from "../../water/dose-card.js";
import { type JarStrength, jarStrengthAt } from "../../water/jar-strength.js";
import { defaultIn, versionsIn } from "../../water/protocol/accept.js";
import { doseByHouseholdProtocol, type ProtocolDoseAnswer } from "../../water/protocol-dose.js";

/** Doses from one jar in her hands, today. */
export interface JarDoses {
	readonly jar: JarStrength;
	/** The limit under which the programme uses no bleach for drinking water, g/L. */
	readonly usableLimitGPerL: number;
	readonly isUsable: boolean;
	readonly measure: Measure;
	readonly lines: readonly DoseLine[];
}

/** The dose of one size and class of water, and the households whose containers it is for. */
export interface DoseLine {
	readonly volumeL: number;
	readonly turbidity: Turbidity;
	readonly protocolName: string;
	readonly answer: ProtocolDoseAnswer;
	readonly households: readonly string[];
}

interface Size {
	readonly household: string;
	readonly turbidity: Turbidity;
	readonly volumeL: number;
	readonly versionId: string | null;
	/** Of the protocol's dose, by the household's own readings; none: as it is. */
	readonly clearTimes: number | null;
	readonly cloudyTimes: number | null;
}

/** Where she looks after no container yet: the size that most programmes hand out. */
const USUAL_L = 20;
/** Jars whose doses are shown; the newest first. Nobody carries more. */
const MOST_JARS = 4;

/** @returns for each jar that she keeps, the dose of every size of container that she looks after; the newest jar first */
export async function jarDosesOf(
	{ store, calendars }: { store: Store; calendars: Calendars },
	personId: string,
	nowMs: number,
): Promise<JarDoses[]> {
	const policy = await currentPolicy(store);
	const jars = await store.query<{ id: string; climate: string }>(
		`SELECT b.id, a.climate FROM batch b JOIN area a ON a.id = b.area_id
		 WHERE b.keeper_id = $1 AND b.state = 'in use' AND (b.held_ul IS NULL OR b.held_ul > 0) ORDER BY b.made_at_ms DESC, b.id LIMIT ${MOST_JARS}`,
		[personId],
	);
	const first = await defaultIn(store);
	if (jars.length === 0 || !first) return [];
	const sizes = await store.query<Size>(
		`SELECT h.code AS household, h.turbidity, c.volume_l, p.protocol_version_id AS version_id, o.clear_times, o.cloudy_times
		 FROM household h JOIN container c ON c.household_id = h.id LEFT JOIN household_protocol p ON p.household_id = h.id
		 LEFT JOIN household_dose o ON o.household_id = h.id WHERE h.volunteer_id = $1 ORDER BY h.code`,
		[personId],
	);
	const classes = classesOf(sizes, first.id);
	const versions = await versionsIn(store, [...new Set(classes.map(({ versionId }) => versionId))]);
	const told: JarDoses[] = [];
	for (const { id, climate } of jars) {
		const jar = await jarStrengthAt(store, calendars, id, policy, nowMs);
		if (!jar) continue;
		const { dayMeanC, nightMeanC } = climateOfDay(JSON.parse(climate) as MonthlyClimate[], dayOfYear(nowMs));
		const temperatureC = Math.min(45, Math.max(0, (dayMeanC + nightMeanC) / 2));
		told.push({
			jar,
			usableLimitGPerL: policy.usableLimitGPerL,
			isUsable: jar.state === "in use" && jar.strength.medianGPerL >= policy.usableLimitGPerL,
			measure: policy.measure,
			lines: classes.flatMap(({ versionId, volumeL, turbidity, doseTimes, households }) => {
				const version = versions.get(versionId);
				if (!version) return [];
				const answer = doseByHouseholdProtocol(version.body, { volumeL, turbidity, temperatureC, doseTimes }, jar, policy);
				return [{ volumeL, turbidity, protocolName: version.code, answer, households }];
			}),
		});
	}
	return told;
}

interface SizeClass {
	readonly versionId: string;
	readonly volumeL: number;
	readonly turbidity: Turbidity;
	readonly doseTimes: number;
	readonly households: string[];
}

/** Both clear and cloudy water for every size: rain can make any source cloudy overnight. */
function classesOf(sizes: readonly Size[], usualVersionId: string): SizeClass[] {
	const classes = new Map<string, SizeClass>();
	const put = (versionId: string, volumeL: number, turbidity: Turbidity, doseTimes = 1): SizeClass => {
		const key = `${versionId} ${volumeL} ${turbidity} ${doseTimes}`;
		const known = classes.get(key) ?? { versionId, volumeL, turbidity, doseTimes, households: [] };
		classes.set(key, known);
		return known;
	};
	for (const { household, turbidity, volumeL, versionId, clearTimes, cloudyTimes } of sizes) {
		for (const one of ["clear", "cloudy"] as const) put(versionId ?? usualVersionId, volumeL, one);
		const doseTimes = (turbidity === "clear" ? clearTimes : cloudyTimes) ?? 1;
		const { households } = put(versionId ?? usualVersionId, volumeL, turbidity, doseTimes);
		if (!households.includes(household)) households.push(household);
	}
	if (classes.size === 0) for (const one of ["clear", "cloudy"] as const) put(usualVersionId, USUAL_L, one);
	const rank = { clear: 0, cloudy: 1, "very turbid": 2 } as const;
	return [...classes.values()].sort(
		(a, b) =>
			(a.versionId < b.versionId ? -1 : a.versionId > b.versionId ? 1 : 0) ||
			b.volumeL - a.volumeL ||
			rank[a.turbidity] - rank[b.turbidity] ||
			a.doseTimes - b.doseTimes,
	);
}
