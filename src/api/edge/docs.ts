import fastifyStatic from "@fastify/static";
import type { FastifyInstance } from "fastify";
import absolutePath from "swagger-ui-dist/absolute-path.js";
import type { OpenApiDocument } from "./open-api.js";

/** The page runs its own scripts only, and talks to this service only; its styles are partly written into the page. */
const PAGE_POLICY =
	"default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";

const FILES = new Set(["/swagger-ui.css", "/swagger-ui-bundle.js", "/favicon-32x32.png"]);

const PAGE = `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Jarwatch: the interface for programs</title>
<link rel="stylesheet" href="/docs/swagger-ui.css">
<link rel="icon" type="image/png" href="/docs/favicon-32x32.png">
</head>
<body>
<div id="page"></div>
<script src="/docs/swagger-ui-bundle.js"></script>
<script src="/docs/start.js"></script>
</body>
</html>
`;

const START = `SwaggerUIBundle({ url: "/openapi.json", dom_id: "#page", deepLinking: true, validatorUrl: null });\n`;

/** Adds the description of the interface, and a page to read it; both are made when they are first asked for. */
export function addDocs(instance: FastifyInstance, document: () => Promise<OpenApiDocument>): void {
	let text: Promise<string> | undefined;
	instance.get("/openapi.json", { config: { access: "open" } }, async (_request, reply) => {
		text ??= document().then((made) => JSON.stringify(made));
		return reply.header("content-type", "application/json").send(await text);
	});
	instance.get("/docs", { config: { access: "open" } }, (_request, reply) =>
		reply.headers({ "content-type": "text/html; charset=utf-8", "content-security-policy": PAGE_POLICY }).send(PAGE),
	);
	instance.get("/docs/start.js", { config: { access: "open" } }, (_request, reply) =>
		reply.header("content-type", "text/javascript; charset=utf-8").send(START),
	);
	void instance.register(fastifyStatic, {
		root: absolutePath(),
		prefix: "/docs/",
		decorateReply: false,
		index: false,
		allowedPath: (path) => FILES.has(path),
		cacheControl: false,
		setHeaders: (reply) => void reply.header("cache-control", "public, max-age=3600"),
	});
}
