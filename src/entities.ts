import { IdempotencyKeyRow } from "./api/idempotency/rows.js";
import {
	AbsenceRow,
	HandedOverRow,
	HouseholdCareRow,
	ProposalLineRow,
	ProposalRow,
	VolunteerCapacityRow,
} from "./assignment/rows.js";
import { CalendarFeedRow } from "./duties/calendar-rows.js";
import { TaskRow } from "./duties/rows.js";
import { KitComparisonRow, KitLotRow } from "./generators/kit-rows.js";
import {
	BatteryCareRow,
	BatteryReadingRow,
	BatteryRow,
	GeneratorCareRow,
	GeneratorOutageRow,
	GeneratorRow,
} from "./generators/rows.js";
import { GeneratorRunRow } from "./generators/run-rows.js";
import { LedgerRow } from "./ledger/ledger.js";
import { MessageFailureRow, MessageReceiptRow, MessageRow, PushSubscriptionRow, ReplyRow } from "./messages/rows.js";
import { DueRow } from "./programme/due.js";
import { ImportFileRow } from "./programme/import.rows.js";
import { AreaRow, ContainerRow, HolidayRow, HouseholdRow, PersonRow, ProgrammeRow } from "./programme/rows.js";
import { ItemMoveRow, StockItemRow } from "./stock/item-rows.js";
import { BleachWantRow, ProductionPlanRow } from "./stock/plan-rows.js";
import { BatchRow, JarStayRow, StockMoveRow, StrengthTestRow } from "./stock/rows.js";
import { StaleForecastRow } from "./stock/stale.js";
import { HouseholdWaterRow } from "./water/habits.js";
import { HouseholdProtocolRow, ProtocolDefaultRow, ProtocolVersionRow } from "./water/protocol/rows.js";
import { ContainerCleaningRow, ContainerFillRow, DoseRow, ResidualCheckRow } from "./water/rows.js";

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
	StockMoveRow,
	StaleForecastRow,
	JarStayRow,
	ProductionPlanRow,
	BleachWantRow,
	StockItemRow,
	ItemMoveRow,
	DoseRow,
	ResidualCheckRow,
	TaskRow,
	IdempotencyKeyRow,
	MessageRow,
	MessageFailureRow,
	ReplyRow,
	MessageReceiptRow,
	PushSubscriptionRow,
	LedgerRow,
	ProtocolVersionRow,
	HouseholdProtocolRow,
	ProtocolDefaultRow,
	HouseholdWaterRow,
	ContainerFillRow,
	ContainerCleaningRow,
	BatteryRow,
	BatteryReadingRow,
	BatteryCareRow,
	GeneratorRunRow,
	GeneratorCareRow,
	GeneratorOutageRow,
	KitLotRow,
	KitComparisonRow,
	HolidayRow,
	CalendarFeedRow,
	VolunteerCapacityRow,
	HouseholdCareRow,
	AbsenceRow,
	HandedOverRow,
	ProposalRow,
	ProposalLineRow,
];
