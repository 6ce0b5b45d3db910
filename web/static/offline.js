// The page's side of working without network: it says what is so, and wakes
// the worker. Browsers let this work over TLS and on the machine itself only.
"use strict";

const { snapshot } = document.documentElement.dataset; // how things stood; undefined: the page is from the server
const { account, started } = document.body.dataset;
const ward = /^\/wards\/[^/]+$/.test(location.pathname) ? location.pathname : undefined;
if (ward) localStorage.setItem("ward", ward);

// reveal unhides the sentences that hold, with their count.
function reveal(holds, root = document) {
	for (const p of all("[data-when]", root)) {
		const n = holds[p.dataset.when];
		if (n === undefined) continue;
		p.hidden = !n;
		const count = p.querySelector("[data-count]");
		if (count) count.textContent = n;
	}
	for (const note of all("[data-network]", root)) note.hidden = !all("[data-when]", note).some((p) => !p.hidden);
}

// marked shows on a page from before what was recorded on this device since.
function marked(mine) {
	const words = document.querySelector("[data-mark]");
	if (!snapshot || !words) return;
	const clock = new Intl.DateTimeFormat(document.documentElement.lang, { hour: "2-digit", minute: "2-digit" });
	const texts = new Map(mine.map(({ path, captured }) => [path.split("/").slice(0, 3).join("/"), `${clock.format(Date.parse(captured))} ${words.textContent}`]));
	for (const old of all(".kept-mark")) if (texts.get(old.dataset.of) !== old.textContent) old.remove();
	for (const [of, text] of texts) {
		if (document.querySelector(`.kept-mark[data-of="${of}"]`)) continue;
		const mark = document.createElement("span");
		mark.className = "kept-mark";
		mark.dataset.of = of;
		mark.textContent = text;
		document.querySelector(`main a[href="${of}"], main a[href^="${of}/"]`)?.after(mark);
	}
}

function show(state) {
	reveal({ waiting: state.waiting, unreadable: state.unreadable, tray: state.tray });
	marked(state.mine);
}

// ---- a page from before the network dropped

if (snapshot) {
	reveal({ snapshot: 1 });
	show(JSON.parse(snapshot));
	// It may be filled in more than once, so each time it makes another entry.
	for (const id of all('form[method="post"] input[type="hidden"]:is([name="entry"],[name="line"],[name="subject"])')) id.value = crypto.randomUUID();
	// What it said of the form was said before.
	for (const advice of all("[data-failed]")) advice.textContent = advice.dataset.failed;
	// A page that nobody is filling in is fetched anew once there is a server again.
	const fresh = () => fetch("/healthz").then((answer) => { if (answer.ok) location.reload(); }, () => {});
	if (!document.querySelector('main form[method="post"]')) setInterval(fresh, 10000);
} else {
	addEventListener("offline", () => reveal({ snapshot: 1 }));
	addEventListener("online", () => reveal({ snapshot: 0 }));
}

// ---- the page that stands in for one that is not here

if (location.pathname === "/offline") {
	const q = new URLSearchParams(location.search);
	const act = q.get("kept");
	reveal({ kept: act ? 1 : 0, place: act === "place" ? 1 : 0, unkept: q.has("unkept") ? 1 : 0, "signed-out": q.has("signed-out") ? 1 : 0 });
	const back = document.querySelector("[data-ward]");
	back.href = localStorage.getItem("ward") || "/";
	back.hidden = q.has("signed-out");
} else if (document.querySelector("main [data-when=missing]")) {
	reveal({ missing: 1 });
	document.querySelector("[data-ward]").href = localStorage.getItem("ward") || "/";
}

// ---- the worker

if (navigator.serviceWorker) {
	const wake = async () => (await navigator.serviceWorker.ready).active.postMessage({ account, started, ward });
	let waiting = 0;
	navigator.serviceWorker.addEventListener("message", ({ data }) => {
		waiting = data.waiting;
		if (waiting) navigator.storage?.persist?.();
		show(data);
	});
	navigator.serviceWorker.register("/worker.js").then(wake, () => {});
	addEventListener("online", wake);
	document.addEventListener("visibilitychange", () => { if (!document.hidden) wake(); });
	setInterval(() => { if (waiting || ward) wake(); }, 30000);
}
