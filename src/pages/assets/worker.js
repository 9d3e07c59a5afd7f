// Keeps a volunteer's pages in the phone, so that they open without a network. The list of files is put in when it is served.
const SHELL = ["SHELL"];
const FILES = "jarwatch-files";
const PAGES = "jarwatch-pages";
/** On a slow network a page of before is better than none for so long. */
const PATIENCE_MS = 6000;
const STALE_MS = 12 * 3600 * 1000;

self.addEventListener("install", (event) => {
	event.waitUntil(
		caches
			.open(FILES)
			.then((files) => files.addAll(SHELL))
			.then(() => self.skipWaiting()),
	);
});

self.addEventListener("activate", (event) => {
	event.waitUntil(
		(async () => {
			const files = await caches.open(FILES);
			for (const request of await files.keys()) if (!SHELL.includes(new URL(request.url).pathname)) await files.delete(request);
			await self.clients.claim();
		})(),
	);
});

const isPage = (path) => path === "/me" || path.startsWith("/me/");

/** A page is kept with the instant at which it came; one that led elsewhere is somebody's who isn't signed in. */
const keepPage = async (path, response) => {
	if (response.status !== 200 || response.redirected || !response.headers.get("content-type")?.startsWith("text/html")) return;
	const headers = new Headers(response.headers);
	headers.set("x-kept-at", String(Date.now()));
	const pages = await caches.open(PAGES);
	await pages.put(path, new Response(await response.blob(), { status: 200, headers }));
};

const fresh = async (request, path) => {
	const response = await fetch(request);
	if (path.startsWith("/me/tasks/")) return response;
	await keepPage(path, response.clone());
	return response;
};

const pageFor = async (event, path) => {
	const pages = await caches.open(PAGES);
	const before = await pages.match(path);
	const network = fresh(event.request, path);
	if (!before) return network.catch(async () => (await pages.match("/me")) ?? Response.error());
	event.waitUntil(network.catch(() => undefined));
	let timer;
	const late = new Promise((resolve) => {
		timer = setTimeout(resolve, PATIENCE_MS, before);
	});
	return Promise.race([network.catch(() => before), late]).finally(() => clearTimeout(timer));
};

self.addEventListener("fetch", (event) => {
	const url = new URL(event.request.url);
	if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
	if (url.pathname.startsWith("/assets/"))
		event.respondWith(caches.match(url.pathname).then((file) => file ?? fetch(event.request)));
	else if (event.request.mode === "navigate" && isPage(url.pathname)) event.respondWith(pageFor(event, url.pathname));
});

self.addEventListener("message", (event) => {
	const paths = (event.data?.keep ?? []).filter(isPage);
	event.waitUntil(
		(async () => {
			const pages = await caches.open(PAGES);
			for (const path of new Set(paths)) {
				const before = await pages.match(path);
				if (before && !event.data.isChanged && Date.now() - Number(before.headers.get("x-kept-at")) < STALE_MS) continue;
				await fetch(path)
					.then((response) => keepPage(path, response))
					.catch(() => undefined);
			}
		})(),
	);
});
