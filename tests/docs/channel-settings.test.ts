import { readFileSync } from "node:fs";
import { join } from "node:path";
import { channelSettingsFrom, channels } from "../../src/settings/channels/channels.js";
import { email } from "../../src/settings/channels/email.js";
import { inboundGateway } from "../../src/settings/channels/inbound.js";
import { smpp } from "../../src/settings/channels/smpp.js";
import { smsGateway } from "../../src/settings/channels/sms-gateway.js";
import { webPush } from "../../src/settings/channels/web-push.js";

const readme = readFileSync(join(__dirname, "../../README.md"), "utf8");
const section = readme.slice(readme.indexOf("\n## Channels\n"), readme.indexOf("\n## Cautions\n"));
const environment = {
	JARWATCH_SECRET_SMS: "invented",
	JARWATCH_SECRET_SMPP: "invented",
	JARWATCH_SECRET_MAIL: "invented",
	JARWATCH_SECRET_PUSH: "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94",
	JARWATCH_SECRET_CITY: "an-invented-secret-of-a-gateway",
	JARWATCH_SECRET_RELAY: "an-invented-secret-of-a-relay",
};

describe("the section on channels", () => {
	const examples = [...section.matchAll(/<!-- channel settings -->\n```json\n([\s\S]*?)```/g)].map(([, json = ""]) => json);

	it("has an example for each channel that is set up there, and for gateways that post", () => {
		const named = examples.flatMap((json) => Object.keys(JSON.parse(json)));
		expect(named.sort()).toEqual(Object.keys(channels.shape).sort());
	});

	it.each(examples)("has settings that the program takes as they stand: %s", (json) => {
		expect(channelSettingsFrom(json, environment)).toEqual({ settings: expect.any(Object) });
	});

	it.each(examples)("names every secret instead of showing it, and no host but invented ones: %s", (json) => {
		const read = channelSettingsFrom(json, {});
		const problems = "problems" in read ? read.problems : [];
		expect(problems.length).toBeGreaterThan(0);
		for (const { message } of problems) expect(message).toMatch(/^names JARWATCH_SECRET_\w+, which isn't set$/);
		for (const [host] of json.matchAll(/[a-z0-9-]+\.(org|com|net|io)\b/g)) expect(host).toBe("example.org");
	});

	it.each([
		["sms-gateway", smsGateway],
		["smpp", smpp],
		["email", email],
		["web-push", webPush],
		["inbound", inboundGateway],
	])("lists the settings of %s, all of them and no others", (name, schema) => {
		const after = section.slice(section.indexOf(`**\`${name}\`**`));
		const rows = /\n\|[^\n]+\n\| -[^\n]+\n((?:\|[^\n]+\n)+)/.exec(after)?.[1] ?? "";
		const listed = rows.split("\n").flatMap((row) => [...(row.split("|")[1] ?? "").matchAll(/`(\w+)`/g)].map(([, key]) => key));
		expect(listed.sort()).toEqual(Object.keys(schema.shape).sort());
	});
});

describe("settings of channels that can't be used", () => {
	it("are refused with every place at once and no value", () => {
		const json = JSON.stringify({
			"sms-gateway": { url: "ftp://secret-host/", send: { as: "form", template: { to: "{nobody}" } }, colour: "red" },
			smpp: { host: "x", systemId: "secret-user-that-is-long", password: "$JARWATCH_SECRET_NONE", source: "x" },
			pigeon: {},
		});
		const read = channelSettingsFrom(json, {});
		const problems = "problems" in read ? read.problems : [];
		expect(new Set(problems.map(({ at }) => at))).toEqual(
			new Set(["/smpp/password", "/sms-gateway/url", "/sms-gateway/send/template", "/sms-gateway", "/smpp/systemId", ""]),
		);
		expect(JSON.stringify(problems)).not.toMatch(/secret-/);
	});

	it("are refused where a template names what there isn't, or lacks number or text", () => {
		const json = JSON.stringify({
			"sms-gateway": { url: "https://sms.example.org/", send: { as: "form", template: { a: "{nobody}" } } },
		});
		const read = channelSettingsFrom(json, {});
		expect("problems" in read && read.problems.map(({ message }) => message.split(",")[0])).toEqual([
			"names {nobody}",
			"must hold {text}",
			"must hold {to} or {toDigits}",
		]);
	});
});
