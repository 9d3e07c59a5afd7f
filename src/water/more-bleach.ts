import type { Policy } from "../programme/policy.js";
import { nearestMeasured } from "../science/measures.js";
import { topUpMl } from "../science/residual-correction.js";
import type { Calendars } from "../stock/places.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type KnownContainer, waterNow } from "./containers.js";
import { type JarStrength, jarInUseFor, jarStrengthAt } from "./jar-strength.js";
import { guideline } from "./protocol/guideline.js";
import type { Protocol } from "./protocol/protocol.js";
import { doseByHouseholdProtocol, doseTimesOf } from "./protocol-dose.js";

/** Bleach that goes into water which read too low. */
export interface MoreBleach {
	readonly bleachMl: number;
	readonly jar: string;
}

/** A corrected dose aims at twice what must be left, so that a kit's coarse step doesn't leave it short. Own choice. */
const AIM = 2;

/**
 * How much more bleach a reading asks for.
 * @param actionCode of the protocol: `dose-once-more` tops the water up from what it reads; any other gives the protocol's dose again
 * @param pHIsHigh whether the water is known to be of pH 8 or more
 * @returns none where there is no bleach that is strong enough, or the protocol gives this water no dose
 */
export async function moreBleach(
	from: Pick<Transaction, "query">,
	calendars: Calendars,
	container: KnownContainer,
	reading: {
		readonly freeChlorineMgPerL: number;
		readonly pHIsHigh: boolean;
		readonly waterL: number | null;
		readonly batchId: string | null;
	},
	protocol: Protocol,
	actionCode: string,
	{ policy, nowMs }: { readonly policy: Policy; readonly nowMs: number },
): Promise<MoreBleach | undefined> {
	const jar = await usableJar(from, calendars, container, reading.batchId, policy, nowMs);
	if (!jar) return undefined;
	const volumeL = reading.waterL ?? container.volumeL;
	const now = waterNow(container, nowMs);
	const water = { volumeL, ...now, doseTimes: doseTimesOf(container, now) };
	const answer = doseByHouseholdProtocol(protocol, water, jar, policy);
	if (answer.kind !== "dose" && answer.kind !== "doseThenCheck") return undefined;
	if (actionCode !== "dose-once-more") return { bleachMl: answer.volumeMl, jar: jar.code };
	const targetMgPerL = AIM * (reading.pHIsHigh ? guideline.leastAfterContactAtPH8MgPerL : guideline.leastAfterContactMgPerL);
	const exactMl = topUpMl({
		residualMgPerL: Math.min(targetMgPerL, reading.freeChlorineMgPerL),
		targetMgPerL,
		waterVolumeL: volumeL,
		strengthGPerL: Math.max(0.5, jar.strength.medianGPerL),
	});
	const { volumeMl } = nearestMeasured(Math.max(exactMl, Number.MIN_VALUE), policy.measure);
	return { bleachMl: Math.min(volumeMl, answer.volumeMl), jar: jar.code };
}

/** The jar that the water was dosed from, else the one that the household's doses come from now. */
async function usableJar(
	from: Pick<Transaction, "query">,
	calendars: Calendars,
	container: KnownContainer,
	batchId: string | null,
	policy: Policy,
	nowMs: number,
): Promise<JarStrength | undefined> {
	const dosedFrom = batchId ? await jarStrengthAt(from, calendars, batchId, policy, nowMs) : undefined;
	if (dosedFrom?.state === "in use") return dosedFrom;
	const other = await jarInUseFor(from, container);
	return other ? jarStrengthAt(from, calendars, other, policy, nowMs) : undefined;
}
