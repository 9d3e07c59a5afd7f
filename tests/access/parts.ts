import type { EntityTarget, ObjectLiteral } from "typeorm";
import type { SubjectKind } from "../../src/access/subjects.js";
import { ProposalLineRow, ProposalRow } from "../../src/assignment/rows.js";
import { IncidentRow } from "../../src/audit/incidents/rows.js";
import { AuditFrameRow, AuditSampleRow, AuditVisitRow } from "../../src/audit/sample/rows.js";
import { TaskRow } from "../../src/duties/rows.js";
import { KitLotRow } from "../../src/generators/kit-rows.js";
import { BatteryRow, GeneratorRow } from "../../src/generators/rows.js";
import { GeneratorRunRow } from "../../src/generators/run-rows.js";
import { LedgerRow } from "../../src/ledger/rows.js";
import { MessageFailureRow, MessageReceiptRow, MessageRow, ReplyRow } from "../../src/messages/rows.js";
import { AreaRow, ContainerRow, HouseholdRow, PersonRow } from "../../src/programme/rows.js";
import { RETEST } from "../../src/stock/due-work.js";
import { StockItemRow } from "../../src/stock/item-rows.js";
import { BatchRow, StockMoveRow } from "../../src/stock/rows.js";
import type { Store } from "../../src/store/store.js";
import { A_JAR } from "../support/a-jar.js";
import { START_MS, WARM } from "../support/world.js";

/** Whose things they are: the volunteer's own, her neighbour's within the supervisor's area, or another area's. */
export type Side = "mine" | "near" | "out";
export type Names = Readonly<Record<SubjectKind, string>>;

/** Ids that requests name have small letters and digits alone. */
export function namesOf(side: Side): Names {
	const code = (kind: string) => `${side.toUpperCase()}-${kind}`;
	return {
		area: code("A"),
		person: code("V"),
		household: code("H"),
		container: code("C"),
		batch: code("B"),
		task: `${side.toUpperCase()}1`,
		generator: code("G"),
		"generator run": code("R"),
		battery: code("BAT"),
		"kit lot": code("L"),
		"stock item": code("I"),
		message: `${side}message`,
		reply: `${side}reply`,
		"assignment proposal": `${side}proposal`,
		"audit sample": `${side}sample`,
		incident: `${side}incident`,
		"ledger entry": `${side}entry`,
	};
}

/**
 * Invented: ROOT has IN and OUT; MINE and NEAR lie in IN. Each side has a volunteer with one of every thing;
 * IN and OUT have a supervisor and somebody of the health office.
 */
export async function threeParts(store: Store): Promise<void> {
	await area(store, "ROOT", null);
	await area(store, "IN", "ROOT");
	await area(store, "MINE-A", "IN");
	await area(store, "NEAR-A", "IN");
	await area(store, "OUT-A", "ROOT");
	for (const [id, role, areaId] of [
		["IN-S", "supervisor", "IN"],
		["IN-O", "health office", "IN"],
		["OUT-S", "supervisor", "OUT-A"],
	])
		await put(store, PersonRow, { ...PERSON, id, code: id, role, areaId });
	for (const side of ["mine", "near", "out"] as const) await everythingOf(store, side);
}

const PERSON = {
	name: "Invented",
	language: "en",
	workingDays: [1, 2, 3, 4, 5, 6, 7],
	quietFrom: "20:00",
	quietUntil: "06:00",
	channels: [],
	active: true,
};

function area(store: Store, code: string, parentId: string | null) {
	const place = { latitudeDeg: -1.5, longitudeDeg: 37, altitudeM: 1200, climate: WARM };
	return put(store, AreaRow, { id: code, code, parentId, name: "Invented", timeZone: "Africa/Nairobi", ...place });
}

async function everythingOf(store: Store, side: Side): Promise<void> {
	const names = namesOf(side);
	const areaId = names.area;
	const named = (kind: SubjectKind) => ({ id: names[kind], code: names[kind] });
	await put(store, PersonRow, { ...PERSON, ...named("person"), role: "volunteer", areaId });
	await put(store, HouseholdRow, {
		...named("household"),
		areaId,
		volunteerId: names.person,
		persons: 5,
		waterSource: "well",
		turbidity: "clear",
	});
	await put(store, ContainerRow, { ...named("container"), householdId: names.household, volumeL: 20, kind: "narrow mouth" });
	await put(store, GeneratorRow, {
		...named("generator"),
		name: "Invented",
		areaId,
		ratedCurrentA: 10,
		cellsInSeries: 1,
		currentEfficiency: 0.6,
		batchVolumeL: 5,
		saltGPerL: 30,
		inService: true,
		operatorId: names.person,
	});
	await put(store, BatchRow, {
		...named("batch"),
		generatorId: names.generator,
		areaId,
		keeperId: names.person,
		madeAtMs: START_MS,
		...A_JAR,
		state: "in use",
	});
	await put(store, StockMoveRow, { id: `${side}move`, jarId: names.batch, kind: "made", volumeUl: 5_000_000, fill: 1 });
	await put(store, BatteryRow, {
		...named("battery"),
		areaId,
		generatorId: names.generator,
		ratedAh: 100,
		ratedHours: 20,
		peukertExponent: 1.2,
		inUse: true,
		sinceMs: START_MS,
	});
	await put(store, GeneratorRunRow, {
		...named("generator run"),
		generatorId: names.generator,
		startedAtMs: START_MS - 7_200_000,
		endedAtMs: START_MS - 3_600_000,
		saltG: 150,
		waterL: 5,
		powerSource: "mains",
	});
	const lot = { kit: "comparator 0-5", lot: "1", receivedOn: "2026-01-01", expiresOn: "2027-01-01", state: "in use" };
	await put(store, KitLotRow, { ...named("kit lot"), areaId, holderId: names.person, ...lot });
	const salt = { kind: "salt", unit: "g", held: 1000, changedAtMs: START_MS };
	await put(store, StockItemRow, { ...named("stock item"), areaId, holderId: names.person, ...salt });
	await put(store, TaskRow, {
		...named("task"),
		kind: RETEST,
		subjectId: names.batch,
		cycle: 1,
		areaId,
		assigneeId: names.person,
		state: "open",
		dueAtMs: START_MS,
		openedAtMs: START_MS,
		brief: { jar: names.batch, sampleMl: 1, waterL: 2, chancePercent: 5, days: 3, kit: "comparator 0-5" },
	});
	await put(store, MessageRow, {
		id: names.message,
		idempotencyKey: names.message,
		taskId: names.task,
		recipientId: names.person,
		text: "jar.weak",
		fill: { jar: names.batch, strengthGPerL: 2 },
		urgent: false,
		state: "failed",
		createdAtMs: START_MS,
		endedAtMs: START_MS,
		channel: "console",
	});
	await put(store, MessageFailureRow, {
		id: `${side}failure`,
		messageId: names.message,
		channel: "console",
		forGood: true,
		reason: "invented",
	});
	const receipt = { channel: "console", channelMessageId: side, claim: 0, state: "failed" };
	await put(store, MessageReceiptRow, { id: `${side}receipt`, messageId: names.message, ...receipt });
	await put(store, ReplyRow, {
		id: names.reply,
		channel: "sms",
		channelMessageId: side,
		fromAddress: "+447700900123",
		body: "4",
		personId: names.person,
		taskId: names.task,
		outcome: "unclear",
	});
	await put(store, LedgerRow, {
		id: names["ledger entry"],
		atMs: START_MS,
		actor: names.person,
		action: "invented",
		subjectKind: "household",
		subjectId: names.household,
		areaId,
		detail: {},
	});
	const proposal = {
		id: names["assignment proposal"],
		areaId,
		state: "open",
		version: 1,
		askedAtMs: START_MS,
		deadlineMs: START_MS,
	};
	await put(store, ProposalRow, proposal);
	const line = {
		proposalId: names["assignment proposal"],
		householdId: names.household,
		fromId: names.person,
		state: "proposed",
	};
	await put(store, ProposalLineRow, { ...line, toId: names.person });
	const sampleId = names["audit sample"];
	const plan = {
		aims: { kind: "size", households: 1 },
		method: { kind: "simple" },
		households: 1,
		clusters: null,
		designEffect: 1,
		lot: null,
	};
	const reported = { reportedFrom: "2026-03-01", reportedTo: "2026-03-02" };
	await put(store, AuditSampleRow, { id: sampleId, areaId, plan, ...reported });
	await put(store, AuditFrameRow, { sampleId, lines: `${areaId}\t${names.household}\n` });
	const visit = { sampleId, householdId: names.household, place: 1, auditorId: names.person };
	const incident = {
		kind: "generator out",
		subjectKind: "generator",
		subjectId: names.generator,
		state: "open",
		found: { about: names.generator },
	};
	await put(store, IncidentRow, { id: names.incident, causeId: names.incident, areaId, openedAtMs: START_MS, ...incident });
	await put(store, AuditVisitRow, { id: `${side}visit`, ...visit });
}

/** One row; a column that must have a value and isn't given gets an empty one. */
async function put<T extends ObjectLiteral>(store: Store, entity: EntityTarget<T>, given: ObjectLiteral): Promise<void> {
	const { tableName, columns } = store.writer.getMetadata(entity);
	const row = columns.map(({ propertyName, isNullable, type }) => {
		const empty = type === "text" ? "-" : type === "boolean" ? false : type === "simple-json" ? {} : 0;
		const value = given[propertyName] ?? (isNullable ? null : empty);
		return typeof value === "object" && value !== null ? JSON.stringify(value) : value;
	});
	await store.work.run((tx) =>
		tx.insert(
			tableName,
			columns.map(({ databaseName }) => databaseName),
			[row],
		),
	);
}
