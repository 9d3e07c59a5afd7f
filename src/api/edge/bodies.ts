import type { FastifyInstance, FastifyRequest } from "fastify";
import { EdgeRefusal } from "./problem.js";

export const BODY_LIMIT_BYTES = 256 * 1024;

/** A file that a page's form brings is held whole: longer ones come by the command line, or as text/csv. */
export const UPLOAD_LIMIT_BYTES = 8 * 1024 * 1024;

/** What a route takes as its body: JSON, a CSV file, a page's form without or with a file, or what a gateway posts, which stays as it came because it may be signed. */
export type BodyKind = "application/json" | "text/csv" | "gateway" | "form" | "upload";

/** The media types of each kind. */
export const MEDIA_TYPES: Readonly<Record<BodyKind, readonly string[]>> = {
	"application/json": ["application/json"],
	"text/csv": ["text/csv"],
	gateway: ["application/json", "application/x-www-form-urlencoded"],
	form: ["application/x-www-form-urlencoded"],
	upload: ["multipart/form-data"],
};

declare module "fastify" {
	interface FastifyContextConfig {
		consumes?: BodyKind;
	}
}

/**
 * Takes JSON and forms in whole and CSV as a stream, and nothing else.
 * A CSV file has no length limit here: whoever reads the stream sets one.
 */
export function addBodyParsers(instance: FastifyInstance): void {
	instance.removeAllContentTypeParsers();
	const parsed = instance.getDefaultJsonParser("error", "error");
	instance.addContentTypeParser(
		"application/json",
		{ parseAs: "buffer", bodyLimit: BODY_LIMIT_BYTES },
		(request, bytes, done) => {
			if (request.routeOptions.config.consumes === "gateway") return done(null, bytes);
			let text: string;
			try {
				text = new TextDecoder("utf-8", { fatal: true }).decode(bytes as Buffer);
			} catch {
				return done(new EdgeRefusal(400, "malformed", "The body isn't UTF-8."), undefined);
			}
			parsed(request, text, done);
		},
	);
	instance.addContentTypeParser(
		"application/x-www-form-urlencoded",
		{ parseAs: "buffer", bodyLimit: BODY_LIMIT_BYTES },
		(_request, bytes, done) => done(null, bytes),
	);
	instance.addContentTypeParser(
		"multipart/form-data",
		{ parseAs: "buffer", bodyLimit: UPLOAD_LIMIT_BYTES },
		(_request, bytes, done) => done(null, bytes),
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
	const taken = MEDIA_TYPES[consumes];
	if (taken.includes(mediaType) && (charset === undefined || charset === "utf-8" || charset === "us-ascii")) return undefined;
	return new EdgeRefusal(415, "media-type", `Send the body as ${taken.join(" or ")} in UTF-8.`, { accept: taken.join(", ") });
}
