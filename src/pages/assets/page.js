// What a page does better with a script: answers wait in the phone for the network. Without it everything works by plain forms.
(() => {
	const { body } = document;
	const person = body.dataset.person;
	const place = document.getElementById("unsent");
	const words = place ? place.dataset : {};

	const line = document.getElementById("line");
	const showLine = () => {
		line.textContent = line.dataset.offline;
		line.hidden = navigator.onLine;
	};
	addEventListener("online", showLine);
	addEventListener("offline", showLine);
	showLine();

	// A task that an address names is shown opened.
	const named = location.hash && document.getElementById(location.hash.slice(1));
	if (named instanceof HTMLDetailsElement) named.open = true;

	if (!person || !("indexedDB" in window) || !("serviceWorker" in navigator)) return;

	const asked = (request) =>
		new Promise((resolve, reject) => {
			request.onsuccess = () => resolve(request.result);
			request.onerror = () => reject(request.error);
		});
	const opened = () => {
		const request = indexedDB.open("jarwatch", 1);
		request.onupgradeneeded = () => request.result.createObjectStore("answers", { keyPath: "key" });
		return asked(request);
	};
	const kept = async (mode, act) => {
		const database = await opened();
		try {
			return await asked(act(database.transaction("answers", mode).objectStore("answers")));
		} finally {
			database.close();
		}
	};
	const all = async () =>
		(await kept("readonly", (store) => store.getAll()))
			.filter((answer) => answer.person === person)
			.sort((a, b) => a.answeredAtMs - b.answeredAtMs);
	const put = (answer) => kept("readwrite", (store) => store.put(answer));
	const remove = (key) => kept("readwrite", (store) => store.delete(key));

	/** Shows what waits, and what came back untaken until she has seen it. */
	const show = async () => {
		const answers = await all();
		for (const job of document.querySelectorAll("[data-task]")) {
			const is = (wanted) => answers.some(({ task, state }) => task === job.dataset.task && state === wanted);
			job.classList.toggle("waits", is("waiting"));
			job.classList.toggle("sent", is("taken"));
		}
		if (!place) return;
		place.hidden = answers.length === 0;
		place.querySelector("ul").replaceChildren(
			...answers.map((answer) => {
				const item = document.createElement("li");
				item.className = answer.state;
				const title = document.createElement("p");
				const what = document.createElement("bdi");
				what.textContent = `${answer.title}: ${answer.shown}`;
				title.append(what);
				const said = document.createElement("p");
				said.textContent = answer.state === "waiting" ? (answer.isSignedOut ? words.signedOut : words.waiting) : answer.said;
				item.append(title, said);
				if (answer.state !== "waiting") {
					const button = document.createElement("button");
					button.className = "quiet";
					button.textContent = words.remove;
					button.addEventListener("click", async () => {
						await remove(answer.key);
						await show();
					});
					item.append(button);
				}
				return item;
			}),
		);
	};

	/** The token of a page that was kept may be of a session that has ended: a new page brings a new one. */
	const newToken = async () => {
		const page = await fetch(body.dataset.keeps, { cache: "no-store", headers: { "x-fresh": "1" } });
		if (page.redirected) return undefined;
		return new DOMParser().parseFromString(await page.text(), "text/html").getElementById("unsent")?.dataset.token;
	};
	let token = place?.dataset.token;

	const post = (answer) =>
		fetch(`/me/tasks/${answer.task}/answer`, {
			method: "POST",
			headers: { accept: "application/json", "idempotency-key": `"${answer.key}"` },
			body: new URLSearchParams({ ...answer.fields, token: token ?? "", answeredAtMs: String(answer.answeredAtMs) }),
		});

	/** @returns where the answer to the task that was asked for leads; nothing where it waits */
	const send = async (key) => {
		let to;
		for (const answer of (await all()).filter(({ state }) => state === "waiting")) {
			let response = await post(answer);
			if (response.status === 403) {
				token = await newToken();
				if (token) response = await post(answer);
			}
			if (response.status === 401 || response.status === 403) {
				await put({ ...answer, isSignedOut: true });
				break;
			}
			if (response.status >= 500 || response.status === 429) break;
			const told = await response.json();
			const isTaken = told.outcome === "accepted" || told.outcome === "put off";
			// What follows from it, such as water that nobody may drink, is shown until she has seen it.
			if (isTaken && answer.key === key) await remove(answer.key);
			else await put({ ...answer, state: isTaken ? "taken" : "returned", said: told.said ?? words.refused });
			if (isTaken && answer.key === key) to = told.to;
			// What is kept of today still has the task.
			if (isTaken) navigator.serviceWorker.controller?.postMessage({ keep: [body.dataset.keeps], isChanged: true });
		}
		return to;
	};
	/** One page at a time sends: with two open, each answer still goes once. */
	const sendAlone = async (key) => {
		try {
			return navigator.locks ? await navigator.locks.request("jarwatch-answers", () => send(key)) : await send(key);
		} catch {
			return undefined;
		} finally {
			await show();
		}
	};

	document.addEventListener("submit", async (event) => {
		const form = event.target;
		if (!form.dataset.answer) {
			if (form.dataset.leaving === undefined) return;
			event.preventDefault();
			if ((await all()).length > 0 && !confirm(form.dataset.leaving)) return;
			indexedDB.deleteDatabase("jarwatch");
			for (const name of await caches.keys()) await caches.delete(name);
			form.submit();
			return;
		}
		event.preventDefault();
		const fields = Object.fromEntries(new FormData(form, event.submitter));
		const { key, token: _, ...said } = fields;
		const chosen = form.querySelector("input:checked");
		const job = form.closest("[data-task]");
		await put({
			key,
			person,
			task: form.dataset.answer,
			title: job?.dataset.title ?? form.dataset.code,
			shown: chosen ? chosen.parentElement.textContent.trim() : (said.reading ?? event.submitter?.textContent.trim() ?? ""),
			fields: said,
			answeredAtMs: Date.now(),
			state: "waiting",
		});
		await show();
		const to = await sendAlone(key);
		if (to) location.assign(to);
		else if (place) place.scrollIntoView({ block: "start" });
	});

	addEventListener("online", () => sendAlone());
	addEventListener("visibilitychange", () => document.hidden || sendAlone());
	setInterval(() => sendAlone(), 60_000);
	show().then(() => sendAlone());

	// The rest of her pages is fetched for the way once this one stands, and again when half a day has gone.
	addEventListener("load", async () => {
		await navigator.serviceWorker.register("/worker.js", { scope: body.dataset.keeps });
		const { active } = await navigator.serviceWorker.ready;
		active.postMessage({
			keep: [location.pathname, ...[...document.querySelectorAll(".ways a")].map((way) => way.pathname)],
		});
	});
})();
