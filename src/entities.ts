import {
	AccountLinkRow,
	AccountRow,
	ApiKeyRow,
	AreaDutyRow,
	KnownDeviceRow,
	RecoveryCodeRow,
	SessionRow,
	SignInCodeRow,
	ThrottleRow,
} from "./access/rows.js";
import { IdempotencyKeyRow } from "./api/idempotency/rows.js";
import {
	AbsenceRow,
	HandedOverRow,
	HouseholdCareRow,
	ProposalLineRow,
	ProposalRow,
	VolunteerCapacityRow,
} from "./assignment/rows.js";
import { HeadLetterRow } from "./audit/head-mail/rows.js";
import { IncidentLookRow, IncidentRow } from "./audit/incidents/rows.js";
import { AuditFrameRow, AuditResultRow, AuditSampleRow, AuditVisitRow } from "./audit/sample/rows.js";
import { CalendarFeedRow } from "./duties/calendar-rows.js";
import { MonthSegmentsRow, TaskRow } from "./duties/rows.js";
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
import { LedgerAnchorRow, LedgerRow, LedgerSealRow, LedgerWaitingRow } from "./ledger/rows.js";
import {
	ChannelPaceRow,
	MessageFailureRow,
	MessageReceiptRow,
	MessageRow,
	PushSubscriptionRow,
	ReplyRow,
} from "./messages/rows.js";
import { ClearingRow } from "./personal/rows.js";
import { ConsentRow } from "./programme/consent-rows.js";
import { DueRow } from "./programme/due.js";
import { ImportFileRow } from "./programme/import.rows.js";
import { AreaRow, ContainerRow, HolidayRow, HouseholdRow, PersonRow, ProgrammeRow } from "./programme/rows.js";
import { DoseToldRow } from "./stock/dose-told.js";
import { ItemMoveRow, StockItemRow } from "./stock/item-rows.js";
import { BleachWantRow, ProductionPlanRow } from "./stock/plan-rows.js";
import { BatchRow, JarStayRow, StockMoveRow, StrengthTestRow } from "./stock/rows.js";
import { StaleForecastRow } from "./stock/stale.js";
import { DataKeyRow, SealedColumnRow } from "./store/sealing/rows.js";
import { HouseholdWaterRow } from "./water/habits.js";
import { HouseholdDoseRow } from "./water/own-dose.js";
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
	DoseToldRow,
	StaleForecastRow,
	JarStayRow,
	ProductionPlanRow,
	BleachWantRow,
	StockItemRow,
	ItemMoveRow,
	DoseRow,
	ResidualCheckRow,
	TaskRow,
	MonthSegmentsRow,
	IdempotencyKeyRow,
	MessageRow,
	ChannelPaceRow,
	MessageFailureRow,
	ReplyRow,
	MessageReceiptRow,
	PushSubscriptionRow,
	LedgerRow,
	LedgerWaitingRow,
	LedgerSealRow,
	LedgerAnchorRow,
	HeadLetterRow,
	ConsentRow,
	ClearingRow,
	DataKeyRow,
	SealedColumnRow,
	ProtocolVersionRow,
	HouseholdProtocolRow,
	ProtocolDefaultRow,
	HouseholdWaterRow,
	HouseholdDoseRow,
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
	AccountRow,
	RecoveryCodeRow,
	SessionRow,
	SignInCodeRow,
	AccountLinkRow,
	ApiKeyRow,
	KnownDeviceRow,
	ThrottleRow,
	AreaDutyRow,
	AuditSampleRow,
	AuditFrameRow,
	AuditVisitRow,
	AuditResultRow,
	IncidentRow,
	IncidentLookRow,
];
