// The worker answers for the server while there is no network. It keeps
//  - the files of the pages, for whoever uses the device;
//  - the bedside pages of who is signed in, encrypted with a key that cannot be
//    read out, until the session ends or somebody signs out or in;
//  - what was typed, sealed so that only the server can read it, until the
//    server has said what became of it.

const bedside = /^\/(wards\/[^/]+(\/(admit|round))?|patients\/[^/]+(\/[^/]+)?|lines\/[^/]+(\/[^/]+)?)$/;
const record = /^\/(wards\/[^/]+\/admit|patients\/[^/]+\/[^/]+|lines\/[^/]+\/[^/]+)$/;
const undo = /^\/entries\/([^/]+)\/undo$/;
const offlinePage = "/offline";

// Answers of what stands in front of a server that is not there.
const absent = (answer) => [502, 503, 504].includes(answer.status);

// A network that says nothing for so long counts as none; at first it is given
// longer than once it has been found so.
let patience = 8000; // ms

// ask is a request of the worker's own, which is no person's act.
const ask = (path, more = {}) => fetch(path, { headers: { "X-Background": "1" }, signal: AbortSignal.timeout(30000), ...more });

// ---- what is kept

const database = new Promise((done, failed) => {
	const open = indexedDB.open("dwellbook", 1);
	open.onupgradeneeded = () => {
		open.result.createObjectStore("meta");
		open.result.createObjectStore("pages");
		open.result.createObjectStore("queue", { autoIncrement: true });
	};
	open.onsuccess = () => done(open.result);
	open.onerror = () => failed(open.error);
});

// inStore asks a store and waits until what was written is on disk.
async function inStore(name, mode, ask) {
	const durability = name === "queue" ? "strict" : "relaxed";
	const tx = (await database).transaction(name, mode, { durability });
	const asked = ask(tx.objectStore(name));
	return new Promise((done, failed) => {
		tx.oncomplete = () => done(asked?.result);
		tx.onabort = tx.onerror = () => failed(tx.error);
	});
}
const get = (store, key) => inStore(store, "readonly", (s) => s.get(key));
const put = (store, value, key) => inStore(store, "readwrite", (s) => s.put(value, key));
const drop = (store, key) => inStore(store, "readwrite", (s) => s.delete(key));

// queue gives what is to be sent, in the order of capture, each with its key.
async function queue() {
	const [keys, items] = [await inStore("queue", "readonly", (s) => s.getAllKeys()), await inStore("queue", "readonly", (s) => s.getAll())];
	return items.map((item, i) => ({ key: keys[i], ...item }));
}

// ---- who is signed in

// known notes who is signed in. What another person, or an earlier session,
// could read is gone before anything new is kept.
const known = (account, started) => navigator.locks.request("who", async () => {
	const who = await get("meta", "who");
	if (who?.account === account && who.started === started) return;
	await wipe();
	let device = await get("meta", "device");
	if (!device) await put("meta", (device = crypto.randomUUID()), "device");
	const answer = await ask(`/device-terms?device=${device}`);
	if (!answer.ok || answer.redirected) return;
	const terms = await answer.json();
	const pagesKey = await crypto.subtle.generateKey({ name: "AES-GCM", length: 256 }, false, ["encrypt", "decrypt"]);
	await put("meta", { account, started, device, pagesKey, granted: new Date().toISOString(), ...terms }, "who");
});

// wipe forgets who was signed in and all that could be read; what is to be
// sent stays, since nobody can read it.
async function wipe() {
	for (const name of ["who", "mine", "taken"]) await drop("meta", name);
	await inStore("pages", "readwrite", (s) => s.clear());
}

async function signOut(request) {
	await wipe();
	try {
		return await fetch(request);
	} catch {
		await put("meta", true, "owed");
		return Response.redirect(`${offlinePage}?signed-out`, 303);
	}
}

// settle tells the server of a sign-out that it could not be told of.
async function settle() {
	if (!(await get("meta", "owed"))) return;
	await ask("/sign-out", { method: "POST", redirect: "manual" });
	await drop("meta", "owed");
}

// ---- pages

// keep encrypts pages for whoever is signed in.
async function keep(pages, policy) {
	const who = await get("meta", "who");
	if (!who) return;
	const sealed = await Promise.all(pages.map(async ({ path, html }) => {
		const iv = crypto.getRandomValues(new Uint8Array(12));
		return [path, { iv, policy, sealed: await crypto.subtle.encrypt({ name: "AES-GCM", iv }, who.pagesKey, utf8(html)) }];
	}));
	await inStore("pages", "readwrite", (s) => { for (const [path, page] of sealed) s.put(page, path); });
}

const policyOf = (answer) => answer.headers.get("Content-Security-Policy");

// keepAnswer keeps a page as the server gave it, where it is its reader's.
async function keepAnswer(path, answer) {
	const who = await get("meta", "who");
	const html = await answer.text();
	if (who && html.includes(`data-account="${who.account}"`)) await keep([{ path, html }], policyOf(answer));
}

const takenEvery = 5 * 60000; // ms: a ward's pages are some hundred kilobytes

// keepWard takes a ward's bedside pages along.
async function keepWard(path) {
	const last = await get("meta", "taken");
	if (last?.path === path && Date.now() - last.at < takenEvery && (await get("pages", path))) return;
	const answer = await ask(`${path}/take-along`, { priority: "low" });
	if (!answer.ok || answer.redirected) return;
	await keep(await answer.json(), policyOf(answer));
	await put("meta", { path, at: Date.now() }, "taken");
}

// kept is a page as it was when there was network; undefined where it is not here.
async function kept(path) {
	const [who, page] = [await get("meta", "who"), await get("pages", path)];
	if (!who || !page) return undefined;
	if (Date.now() > Date.parse(who.until)) {
		await wipe();
		return undefined;
	}
	const html = new TextDecoder().decode(await crypto.subtle.decrypt({ name: "AES-GCM", iv: page.iv }, who.pagesKey, page.sealed));
	// How things stand goes with the page, so that nothing moves under a thumb later.
	const state = JSON.stringify(await standing()).replaceAll("&", "&amp;").replaceAll('"', "&quot;");
	return new Response(html.replace("<html", () => `<html data-snapshot="${state}"`), {
		headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": page.policy, "Cache-Control": "no-store" },
	});
}

const file = (request) => caches.match(request, { ignoreVary: true });
const whileOffline = async () => (await file(offlinePage)) || Response.error();

// within gives the answer, or fails where there is none for too long.
async function within(answer) {
	let timer;
	const tooLong = new Promise((_, failed) => { timer = setTimeout(() => { patience = 1500; failed(new Error("no answer")); }, patience); });
	const first = await Promise.race([answer, tooLong]).finally(() => clearTimeout(timer));
	patience = 8000;
	return first;
}

async function open(event, path) {
	try {
		await within(settle());
		await within(send());
		const answer = await within(fetch(event.request));
		if (absent(answer)) throw new Error(answer.status);
		if (path === "/sign-in" && answer.ok) await wipe();
		if (path === "/tray" && answer.ok) await drop("meta", "tray");
		if (answer.ok && bedside.test(path)) event.waitUntil(keepAnswer(path, answer.clone()));
		return answer;
	} catch {
		return (await kept(path)) || whileOffline();
	}
}

// ---- what is recorded

// take sends a form, or keeps it where it cannot be sent. One that comes while
// others wait, waits after them.
async function take(request, path) {
	const copy = request.clone();
	try {
		await within(settle());
		await within(send());
		if (!(await queue()).some((item) => !item.unreadable)) {
			const answer = await within(fetch(request));
			if (!absent(answer)) return answer;
		}
	} catch { /* it is kept */ }
	const page = request.mode === "navigate";
	if (!(await capture(path, await copy.text()))) {
		return page ? Response.redirect(`${offlinePage}?unkept`, 303) : Response.error();
	}
	tell();
	self.registration.sync?.register("send").catch(() => {});
	return page ? Response.redirect(`${offlinePage}?kept=${path.split("/").pop()}`, 303) : new Response(null, { status: 204, headers: { "X-Kept": "1" } });
}

// takeBack undoes what was recorded a moment ago. What is still here was never
// sent, so it is forgotten.
async function takeBack(request, entry) {
	const copy = request.clone();
	const was = await navigator.locks.request("send", async () => {
		const found = ((await get("meta", "mine")) || []).find((one) => one.entry === entry);
		if (!found || !(await get("queue", found.n))) return undefined;
		await drop("queue", found.n);
		return found;
	});
	if (!was) return fetch(request).catch(() => Response.redirect(`${offlinePage}?unkept`, 303));
	tell();
	const to = new URLSearchParams(await copy.text()).get("to") || was.path;
	return Response.redirect(/^\/[^/\\]/.test(to) ? to : "/", 303);
}

// capture seals a form and puts it into the queue.
async function capture(path, form) {
	const who = await get("meta", "who");
	const typed = new URLSearchParams(form);
	if (!who || Date.now() > Date.parse(who.until) || typed.has("check") || typed.has("repeat")) return false;
	const { account, device, grant, granted } = who;
	const captured = new Date().toISOString();
	const entry = { id: crypto.randomUUID(), author: account, device, grant, granted, captured, path, form };
	const key = Uint8Array.from(atob(who.key), (c) => c.charCodeAt(0));
	const sealed = await seal(key, who.info, JSON.stringify(entry));
	const n = await put("queue", { sealed });
	await put("meta", [...((await get("meta", "mine")) || []), { n, path, captured, entry: typed.get("entry") }], "mine");
	return true;
}

const base64 = (bytes) => btoa(String.fromCharCode(...bytes));
const atOnce = 8; // entries, so that they stay under what the server takes at once

// send hands over what waits, in order, whoever is signed in. The server says
// what became of each; what it did not come to is sent again another time.
const send = () => navigator.locks.request("send", async () => {
	for (;;) {
		const waiting = (await queue()).filter((item) => !item.unreadable).slice(0, atOnce);
		if (!waiting.length) return;
		const answer = await ask("/deliver", {
			method: "POST",
			headers: { "Content-Type": "application/json" },
			body: JSON.stringify({ sent: new Date().toISOString(), entries: waiting.map((item) => base64(item.sealed)) }),
		});
		if (!answer.ok) return;
		const { fates } = await answer.json();
		for (const [i, fate] of fates.entries()) {
			const { key, ...item } = waiting[i];
			if (fate === "unreadable") await put("queue", { ...item, unreadable: true }, key);
			else await drop("queue", key);
			if (fate === "waiting") await put("meta", true, "tray");
		}
		tell();
		if (fates.length < waiting.length) return;
	}
});

// standing is how things stand: what waits, and what of it was recorded here
// by who is signed in.
async function standing() {
	const items = await queue();
	const waiting = items.filter((item) => !item.unreadable);
	const mine = ((await get("meta", "mine")) || []).filter(({ n }) => waiting.some((item) => item.key === n));
	const tray = (await get("meta", "tray")) ? 1 : 0; // somebody's, until a tray was opened
	return { waiting: waiting.length, unreadable: items.length - waiting.length, tray, mine };
}

// tell lets every open page know.
async function tell() {
	const state = await standing();
	for (const page of await self.clients.matchAll()) page.postMessage(state);
}

// ---- the browser's events

self.addEventListener("install", (event) => {
	self.skipWaiting();
	event.waitUntil(caches.open("files").then((cache) => cache.addAll(files)));
});

self.addEventListener("activate", (event) => {
	const old = async () => {
		const cache = await caches.open("files");
		for (const request of await cache.keys()) {
			const { pathname, search } = new URL(request.url);
			if (!files.includes(pathname + search)) await cache.delete(request);
		}
	};
	event.waitUntil(Promise.all([old(), self.clients.claim()]));
});

self.addEventListener("fetch", (event) => {
	const { request } = event;
	const { origin, pathname, search } = new URL(request.url);
	if (origin !== location.origin) return;
	if (request.method === "POST") {
		if (pathname === "/sign-out") event.respondWith(signOut(request));
		else if (record.test(pathname)) event.respondWith(take(request, pathname));
		else if (undo.test(pathname)) event.respondWith(takeBack(request, pathname.match(undo)[1]));
		else if (request.mode === "navigate") event.respondWith(fetch(request).catch(() => Response.redirect(`${offlinePage}?unkept`, 303)));
	} else if (request.method === "GET") {
		if (pathname === offlinePage) event.respondWith(whileOffline());
		else if (files.includes(pathname + search)) event.respondWith(file(request).then((found) => found || fetch(request)));
		else if (request.mode === "navigate") event.respondWith(open(event, pathname));
	}
});

self.addEventListener("sync", (event) => event.waitUntil(send()));

self.addEventListener("message", (event) => {
	const { account, started, ward } = event.data;
	const work = async () => {
		await settle();
		if (account) await known(account, started);
		await send();
		if (account && ward) await keepWard(ward);
	};
	event.waitUntil(work().catch(() => {}).then(() => tell()));
});
