import type { FastifyRequest } from "fastify";
import { EdgeRefusal } from "../api/edge/problem.js";

/** What a form brought. */
export interface Form {
	readonly form: URLSearchParams;
	readonly file: Buffer | undefined;
}

/**
 * Reads a form, with a file or without. Source of the former: RFC 7578 (2015), read by the runtime
 * @throws EdgeRefusal 400 where it isn't one
 */
export async function formOf(request: FastifyRequest): Promise<Form> {
	const { body } = request;
	if (!Buffer.isBuffer(body)) return { form: new URLSearchParams(), file: undefined };
	const contentType = request.headers["content-type"] ?? "";
	if (!contentType.startsWith("multipart/")) return { form: new URLSearchParams(body.toString("utf8")), file: undefined };
	const parts = await partsOf(body, contentType);
	const form = new URLSearchParams();
	let file: Buffer | undefined;
	for (const [name, value] of parts) {
		if (typeof value === "string") form.append(name, value);
		else if (value.size > 0) file = Buffer.from(await value.arrayBuffer());
	}
	return { form, file };
}

async function partsOf(body: Buffer, contentType: string): Promise<FormData> {
	try {
		return await new Response(new Uint8Array(body), { headers: { "content-type": contentType } }).formData();
	} catch {
		throw new EdgeRefusal(400, "malformed", "The form with its file can't be read.");
	}
}
