import { strToU8, zipSync } from "fflate";
import { escaped } from "../../charts/svg.js";
import type { CoverageReport } from "../coverage/coverage.js";
import { type Cell, COLUMNS, DEFINITION_HEADINGS, definitionLines, figureLines } from "./table.js";

interface Sheet {
	readonly name: string;
	readonly lines: readonly (readonly Cell[])[];
	/** So many of the first lines are headings. */
	readonly headings: number;
	/** In characters, a column each. */
	readonly widths: readonly number[];
}

/** A ZIP keeps a local time and no zone: the earliest it can keep is the same wherever it is made. */
const MADE = new Date(1980, 0, 1);

/**
 * @returns figures and definitions as a workbook of two sheets; the same report gives the same bytes
 * Source: ECMA-376 (Office Open XML), SpreadsheetML in its least form
 */
export function figuresXlsx(report: CoverageReport): Buffer {
	const figures: Sheet = {
		name: "figures",
		lines: [COLUMNS.map(({ heading }) => heading), COLUMNS.map(({ hashtag }) => hashtag), ...figureLines(report)],
		headings: 2,
		widths: [11, 11, 14, 24, 14, 26, 34, 11, 12, 9, 10, 12, 12],
	};
	const definitions: Sheet = {
		name: "definitions",
		lines: [DEFINITION_HEADINGS, ...definitionLines(report)],
		headings: 1,
		widths: [26, 34, 20, 80, 60, 80],
	};
	const files = workbook([figures, definitions]);
	const packed = Object.fromEntries(Object.entries(files).map(([path, text]) => [path, strToU8(text)]));
	return Buffer.from(zipSync(packed, { mtime: MADE, level: 6 }));
}

const HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n';
const PACKAGE = "http://schemas.openxmlformats.org/package/2006";
const OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const MEDIA = "application/vnd.openxmlformats-officedocument.spreadsheetml";

function workbook(sheets: readonly Sheet[]): Record<string, string> {
	const numbered = sheets.map((sheet, i) => ({ sheet, id: i + 1 }));
	const override = (path: string, kind: string) => `<Override PartName="/${path}" ContentType="${MEDIA}.${kind}+xml"/>`;
	const relation = (id: string, kind: string, target: string) =>
		`<Relationship Id="${id}" Type="${OFFICE}/${kind}" Target="${target}"/>`;
	return {
		"[Content_Types].xml": `${HEAD}<Types xmlns="${PACKAGE}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>${override("xl/workbook.xml", "sheet.main")}${override("xl/styles.xml", "styles")}${numbered.map(({ id }) => override(`xl/worksheets/sheet${id}.xml`, "worksheet")).join("")}</Types>`,
		"_rels/.rels": `${HEAD}<Relationships xmlns="${PACKAGE}/relationships">${relation("rId1", "officeDocument", "xl/workbook.xml")}</Relationships>`,
		"xl/workbook.xml": `${HEAD}<workbook xmlns="${MAIN}" xmlns:r="${OFFICE}"><sheets>${numbered.map(({ sheet, id }) => `<sheet name="${sheet.name}" sheetId="${id}" r:id="rId${id}"/>`).join("")}</sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `${HEAD}<Relationships xmlns="${PACKAGE}/relationships">${numbered.map(({ id }) => relation(`rId${id}`, "worksheet", `worksheets/sheet${id}.xml`)).join("")}${relation(`rId${sheets.length + 1}`, "styles", "styles.xml")}</Relationships>`,
		"xl/styles.xml": STYLES,
		...Object.fromEntries(numbered.map(({ sheet, id }) => [`xl/worksheets/sheet${id}.xml`, sheetXml(sheet)])),
	};
}

/** Cells as they are, and headings in bold. */
const STYLES = `${HEAD}<styleSheet xmlns="${MAIN}"><fonts count="2"><font><sz val="11"/><name val="Calibri"/></font><font><b/><sz val="11"/><name val="Calibri"/></font></fonts><fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills><borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders><cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs><cellXfs count="2"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/><xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1"/></cellXfs></styleSheet>`;

function sheetXml({ lines, headings, widths }: Sheet): string {
	const columns = widths.map((width, i) => `<col min="${i + 1}" max="${i + 1}" width="${width}" customWidth="1"/>`).join("");
	const below = `<pane ySplit="${headings}" topLeftCell="A${headings + 1}" activePane="bottomLeft" state="frozen"/>`;
	const rows = lines.map((cells, r) => {
		const style = r < headings ? ' s="1"' : "";
		return `<row r="${r + 1}">${cells.map((cell, c) => cellXml(cell, `${columnName(c)}${r + 1}`, style)).join("")}</row>`;
	});
	return `${HEAD}<worksheet xmlns="${MAIN}"><sheetViews><sheetView workbookViewId="0">${below}</sheetView></sheetViews><cols>${columns}</cols><sheetData>${rows.join("")}</sheetData></worksheet>`;
}

/** A text is told to be one: it is never reckoned, whatever it begins with. */
function cellXml(cell: Cell, at: string, style: string): string {
	if (cell === null) return "";
	if (typeof cell === "number") return `<c r="${at}"${style}><v>${cell}</v></c>`;
	return `<c r="${at}"${style} t="inlineStr"><is><t xml:space="preserve">${escaped(cell)}</t></is></c>`;
}

/** @returns A to Z: no sheet here is wider */
const columnName = (index: number): string => String.fromCharCode(65 + index);
