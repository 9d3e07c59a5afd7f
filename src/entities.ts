import { TaskRow } from "./duties/rows.js";
import { GeneratorRow } from "./generators/rows.js";
import { LedgerRow } from "./ledger/ledger.js";
import { MessageFailureRow, MessageRow, ReplyRow } from "./messages/rows.js";
import { DueRow } from "./programme/due.js";
import { ImportFileRow } from "./programme/import.rows.js";
import { AreaRow, ContainerRow, HouseholdRow, PersonRow, ProgrammeRow } from "./programme/rows.js";
import { BatchRow, StrengthTestRow } from "./stock/rows.js";
import { HouseholdProtocolRow, ProtocolDefaultRow, ProtocolVersionRow } from "./water/protocol/rows.js";
import { DoseRow, ResidualCheckRow } from "./water/rows.js";

/** Every table of the program. */
export const entities = [
	AreaRow,
	PersonRow,
	HouseholdRow,
	ContainerRow,
	ProgrammeRow,
	DueRow,
	ImportFileRow,
	GeneratorRow,
	BatchRow,
	StrengthTestRow,
	DoseRow,
	ResidualCheckRow,
	TaskRow,
	MessageRow,
	MessageFailureRow,
	ReplyRow,
	LedgerRow,
	ProtocolVersionRow,
	HouseholdProtocolRow,
	ProtocolDefaultRow,
];
