import { Entity, ForeignKey, Index } from "typeorm";
import type { MonthlyClimate } from "../science/exposure.js";
import {
	FlagColumn,
	IdColumn,
	InstantColumn,
	JsonColumn,
	optional,
	RealColumn,
	TextColumn,
	WholeColumn,
} from "../store/columns.js";
import { notByColumn, SealedTextColumn } from "../store/sealing/sealed-columns.js";

/** Where things are: the areas form a tree. */
@Entity("area")
export class AreaRow {
	@IdColumn() id!: string;
	@ForeignKey(() => AreaRow) @TextColumn(optional) parentId!: string | null;
	@Index("area_code", { unique: true }) @TextColumn() code!: string;
	@TextColumn() name!: string;
	/** IANA zone. */
	@TextColumn() timeZone!: string;
	@RealColumn() latitudeDeg!: number;
	@RealColumn() longitudeDeg!: number;
	@RealColumn() altitudeM!: number;
	/** Twelve months, January first. */
	@JsonColumn() climate!: MonthlyClimate[];
}

/** A day on which nobody of an area, or of one below it, is written to about work. */
@Entity("holiday")
@Index("holiday_area", ["areaId", "onDate"])
export class HolidayRow {
	@IdColumn() id!: string;
	@Index("holiday_code", { unique: true }) @TextColumn() code!: string;
	@ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	/** Local date 'YYYY-MM-DD'. */
	@TextColumn() onDate!: string;
	@TextColumn() name!: string;
}

export type PersonRole = "volunteer" | "supervisor" | "health office";

/** A person who is told something and may answer. */
@Entity("person")
export class PersonRow {
	@IdColumn() id!: string;
	@Index("person_code", { unique: true }) @TextColumn() code!: string;
	@TextColumn() role!: PersonRole;
	@SealedTextColumn({ blind: "name" }) name!: string;
	/** Several people may share one phone. */
	@Index("person_phone", notByColumn) @SealedTextColumn({ ...optional, blind: "address" }) phoneE164!: string | null;
	/** In small letters; several people may share one. */
	@Index("person_email", notByColumn) @SealedTextColumn({ ...optional, blind: "address" }) email!: string | null;
	/** BCP 47. */
	@TextColumn() language!: string;
	@Index("person_area") @ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@ForeignKey(() => PersonRow) @TextColumn(optional) supervisorId!: string | null;
	/** ISO weekdays, 1 = Monday. */
	@JsonColumn() workingDays!: number[];
	@TextColumn() quietFrom!: string;
	@TextColumn() quietUntil!: string;
	/** Names of notifiers in order of preference; empty: the programme's first. */
	@JsonColumn() channels!: string[];
	@FlagColumn() active!: boolean;
	/** She asked not to be written to any more: nothing is sent until she asks again. */
	@InstantColumn(optional) optedOutAtMs!: number | null;
	/** Since when her consent to messages holds; none: she gave none, or took it back. */
	@InstantColumn(optional) consentedAtMs!: number | null;
	/** When what was held about her was erased; her code and the figures stay. */
	@InstantColumn(optional) erasedAtMs!: number | null;
}

export type Turbidity = "clear" | "cloudy" | "very turbid";

@Entity("household")
export class HouseholdRow {
	@IdColumn() id!: string;
	@Index("household_code", { unique: true }) @TextColumn() code!: string;
	@Index("household_area") @ForeignKey(() => AreaRow) @TextColumn() areaId!: string;
	@Index("household_volunteer") @ForeignKey(() => PersonRow) @TextColumn(optional) volunteerId!: string | null;
	@WholeColumn() persons!: number;
	@TextColumn() waterSource!: string;
	@TextColumn() turbidity!: Turbidity;
	@RealColumn(optional) latitudeDeg!: number | null;
	@RealColumn(optional) longitudeDeg!: number | null;
}

export type ContainerKind = "narrow mouth" | "wide mouth" | "tap" | "bucket with cover";

/** A vessel in which a household stores water. */
@Entity("container")
export class ContainerRow {
	@IdColumn() id!: string;
	@Index("container_code", { unique: true }) @TextColumn() code!: string;
	@Index("container_household") @ForeignKey(() => HouseholdRow) @TextColumn() householdId!: string;
	@RealColumn() volumeL!: number;
	@TextColumn() kind!: ContainerKind;
	/** 'YYYY-MM-DD' in the area's zone. */
	@TextColumn(optional) lastCleanedOn!: string | null;
}

/** The programme's own rules: one row, read by every service. */
@Entity("programme")
export class ProgrammeRow {
	@IdColumn() id!: string;
	@TextColumn() name!: string;
	/** Parsed by `policyFrom`. */
	@JsonColumn() policy!: unknown;
	@InstantColumn() changedAtMs!: number;
}
