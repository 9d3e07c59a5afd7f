import { Body, Controller, Param, Query } from "@nestjs/common";
import { z } from "zod";
import { Store } from "../../store/store.js";
import { defaultIn, Protocols } from "../../water/protocol/accept.js";
import { protocolFindings } from "../../water/protocol/checker.js";
import { refusals } from "../../water/protocol/finding.js";
import { protocolSchema } from "../../water/protocol/protocol.js";
import { Endpoint } from "../edge/endpoint.js";
import { yesOrNo } from "../edge/fields.js";
import { findingSchema, protocolSummary, summaryView, versionPath, versionSchema, versionView } from "./protocol-view.js";

const list = z.strictObject({ items: z.array(protocolSummary) }).meta({ id: "Protocols" });

const query = z.strictObject({
	closeOnDrinkersSide: yesOrNo.optional().meta({
		description:
			"true: gaps, overlaps and endless steps are closed on the side that protects the drinker, and each closing is told",
	}),
});

const checked = z
	.strictObject({
		accepted: z.boolean().meta({ description: "Whether it could be accepted as it stands" }),
		findings: z.array(findingSchema),
	})
	.meta({ id: "CheckedProtocol" });

@Controller()
export class ProtocolsController {
	constructor(
		private readonly store: Store,
		private readonly protocols: Protocols,
	) {}

	@Endpoint({
		method: "GET",
		path: "/protocols",
		access: "look",
		touches: ["nothing"],
		summary: "Lists the written protocols by version",
		answer: { description: "Protocols, by code and version", schema: list },
	})
	async listProtocols(): Promise<z.output<typeof list>> {
		const first = await defaultIn(this.store);
		return { items: (await this.protocols.list()).map((version) => summaryView(version, first?.id)) };
	}

	@Endpoint({
		method: "POST",
		path: "/protocols",
		access: "administer",
		touches: ["whole"],
		summary: "Takes in a written protocol",
		description:
			"A protocol that leaves a reading without a meaning, gives one two, never ends, or lets people drink what the published values forbid is refused with the figures, and nothing is kept. A change is a new version.",
		answer: { status: 201, description: "The version as it is kept, with what the checker says of it", schema: versionSchema },
	})
	async acceptProtocol(
		@Query({ schema: query }) { closeOnDrinkersSide = false }: z.output<typeof query>,
		@Body({ schema: protocolSchema }) protocol: z.output<typeof protocolSchema>,
	): Promise<z.output<typeof versionSchema>> {
		const version = await this.protocols.accept(protocol, { actor: "office", closeOnDrinkersSide });
		return versionView(version, (await defaultIn(this.store))?.id);
	}

	@Endpoint({
		method: "POST",
		path: "/protocols/check",
		access: "oversee",
		touches: ["nothing"],
		summary: "Tells what the checker says of a protocol, and keeps nothing",
		answer: { description: "The findings, the gravest first", schema: checked },
	})
	async checkProtocol(
		@Body({ schema: protocolSchema }) protocol: z.output<typeof protocolSchema>,
	): Promise<z.output<typeof checked>> {
		const findings = protocolFindings(protocol);
		return { accepted: refusals(findings).length === 0, findings };
	}

	@Endpoint({
		method: "GET",
		path: "/protocols/:code/:version",
		access: "look",
		touches: ["nothing"],
		summary: "Tells one version of a protocol in full",
		answer: { description: "The version, with what the checker said of it when it was accepted", schema: versionSchema },
	})
	async oneProtocol(
		@Param({ schema: versionPath }) { code, version }: z.output<typeof versionPath>,
	): Promise<z.output<typeof versionSchema>> {
		return versionView(await this.protocols.get(code, version), (await defaultIn(this.store))?.id);
	}

	@Endpoint({
		method: "POST",
		path: "/protocols/:code/:version/default",
		access: "administer",
		touches: ["whole"],
		summary: "Makes a version the one that households begin with; who follows another keeps it",
		answer: { description: "The version", schema: versionSchema },
	})
	async makeDefault(
		@Param({ schema: versionPath }) { code, version }: z.output<typeof versionPath>,
	): Promise<z.output<typeof versionSchema>> {
		await this.protocols.makeDefault(code, version, "office");
		return versionView(await this.protocols.get(code, version), (await defaultIn(this.store))?.id);
	}
}
