import { Beginning1764000000000 } from "./1764000000000-beginning.js";
import { Protocol1764000000120 } from "./1764000000120-protocol.js";
import { Watched1764000000200 } from "./1764000000200-watched.js";
import { IdempotencyKeys1764000000210 } from "./1764000000210-idempotency-keys.js";
import { StaleForecasts1764000000220 } from "./1764000000220-stale-forecasts.js";
import { Water1764000001000 } from "./1764000001000-water.js";
import { Stock1764000002000 } from "./1764000002000-stock.js";
import { Generators1764000003000 } from "./1764000003000-generators.js";
import { Channels1764000004000 } from "./1764000004000-channels.js";
import { Telling1764000005000 } from "./1764000005000-telling.js";
import { Assignment1764000006000 } from "./1764000006000-assignment.js";
import { Urgent1764000007000 } from "./1764000007000-urgent.js";
import { HeldByPerson1764000008000 } from "./1764000008000-held-by-person.js";
import { Access1764100000000 } from "./1764100000000-access.js";
import { Personal1764200000000 } from "./1764200000000-personal.js";
import { Consent1764200001000 } from "./1764200001000-consent.js";
import { Audit1764300000000 } from "./1764300000000-audit.js";
import { LedgerChain1764400000000 } from "./1764400000000-ledger-chain.js";
import { Order1764500000000 } from "./1764500000000-order.js";
import { Incidents1764500001000 } from "./1764500001000-incidents.js";
import { DoseTold1764700000000 } from "./1764700000000-dose-told.js";
import { ChannelPace1764800000000 } from "./1764800000000-channel-pace.js";
import { MonthSegments1764800001000 } from "./1764800001000-month-segments.js";
import { HeadMail1764900000000 } from "./1764900000000-head-mail.js";
import { TaskCode1765000000000 } from "./1765000000000-task-code.js";
import { HouseholdDose1765000100000 } from "./1765000100000-household-dose.js";
import { AbsenceDays1765000500000 } from "./1765000500000-absence-days.js";

/** Every step of the schema, in order; a step that has been released is never changed. */
export const migrations = [
	Beginning1764000000000,
	Protocol1764000000120,
	Watched1764000000200,
	IdempotencyKeys1764000000210,
	StaleForecasts1764000000220,
	Water1764000001000,
	Stock1764000002000,
	Generators1764000003000,
	Channels1764000004000,
	Telling1764000005000,
	Assignment1764000006000,
	Urgent1764000007000,
	HeldByPerson1764000008000,
	Access1764100000000,
	Personal1764200000000,
	Consent1764200001000,
	Audit1764300000000,
	LedgerChain1764400000000,
	Order1764500000000,
	Incidents1764500001000,
	DoseTold1764700000000,
	ChannelPace1764800000000,
	MonthSegments1764800001000,
	HeadMail1764900000000,
	TaskCode1765000000000,
	HouseholdDose1765000100000,
	AbsenceDays1765000500000,
];
