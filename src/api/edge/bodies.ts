import type { FastifyInstance, FastifyRequest } from "fastify";
import { EdgeRefusal } from "./problem.js";

export const BODY_LIMIT_BYTES = 256 * 1024;

/** What a route takes as its body. */
export type BodyKind = "application/json" | "text/csv";

declare module "fastify" {
	interface FastifyContextConfig {
		consumes?: BodyKind;
	}
}

/**
 * Takes JSON in whole and CSV as a stream, and nothing else.
 * A CSV file has no length limit here: whoever reads the stream sets one.
 */
export function addBodyParsers(instance: FastifyInstance): void {
	instance.removeAllContentTypeParsers();
	const parsed = instance.getDefaultJsonParser("error", "error");
	instance.addContentTypeParser(
		"application/json",
		{ parseAs: "buffer", bodyLimit: BODY_LIMIT_BYTES },
		(request, bytes, done) => {
			let text: string;
			try {
				text = new TextDecoder("utf-8", { fatal: true }).decode(bytes as Buffer);
			} catch {
				return done(new EdgeRefusal(400, "malformed", "The body isn't UTF-8."), undefined);
			}
			parsed(request, text, done);
		},
	);
	instance.addContentTypeParser("text/csv", (_request, stream, done) => done(null, stream));
}

/** @returns why a body of this kind isn't taken; nothing where it is, or where the route takes none */
export function mediaTypeRefusal(request: FastifyRequest): EdgeRefusal | undefined {
	const { consumes } = request.routeOptions.config;
	if (!consumes || request.is404) return undefined;
	const [mediaType = "", ...parameters] = (request.headers["content-type"] ?? "")
		.split(";")
		.map((part) => part.trim().toLowerCase());
	const charset = parameters.find((parameter) => parameter.startsWith("charset="))?.replace(/^charset="?([^"]*)"?$/, "$1");
	if (mediaType === consumes && (charset === undefined || charset === "utf-8" || charset === "us-ascii")) return undefined;
	return new EdgeRefusal(415, "media-type", `Send the body as ${consumes} in UTF-8.`, { accept: consumes });
}
