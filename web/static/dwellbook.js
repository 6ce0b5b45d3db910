// Dwellbook's script. Every page works without it; it adds the body figure,
// live advice, the live board, rows to a form, and blanking when idle.
"use strict";

const all = (selector, root = document) => [...root.querySelectorAll(selector)];

// ---- body figure: touching a part ticks the radios, and the other way round

for (const pick of all("[data-bodypick]")) {
	const regions = all(".region", pick);
	const radios = all("input[type=radio]", pick);
	const has = (value) => radios.find((r) => r.value === value);
	const groups = [...new Set(radios.map((r) => r.name))];
	const chosen = (name) => radios.find((r) => r.name === name && r.checked);
	const said = pick.querySelector("[data-said]");

	const show = () => {
		const [site, side] = groups.map(chosen);
		for (const r of regions) {
			const sided = r.dataset.side === "none" || r.dataset.side === side?.value || (site?.value === "neck" && side?.value === "none");
			r.classList.toggle("on", r.dataset.site === site?.value && sided);
		}
		said.textContent = [site, side].filter(Boolean).map((r) => r.parentElement.innerText.trim()).join(", ");
	};
	for (const region of regions) {
		region.addEventListener("click", () => {
			const last = [region.dataset.site, region.dataset.side].map(has).map((r) => { r.checked = true; return r; })[1];
			last.dispatchEvent(new Event("change", { bubbles: true }));
		});
	}
	pick.addEventListener("change", show);
	show();
}

// ---- live advice: what the server says about the form as it stands

for (const form of all("form[data-advice]")) {
	const into = document.querySelector(form.dataset.adviceInto);
	let timer, running, said, parted = [];
	// A part of the answer may stand elsewhere, beside what it is about.
	const part = () => {
		for (const place of parted) place.replaceChildren();
		parted = all("[data-put]", into).map((e) => { const place = document.getElementById(e.dataset.put); place.replaceChildren(e); return place; });
	};
	part();
	const ask = async () => {
		running?.abort();
		const mine = running = new AbortController();
		try {
			const asked = new URLSearchParams(new FormData(form)), get = form.method === "get";
			const answer = await fetch(get ? `${form.dataset.advice}?${asked}` : form.dataset.advice, {
				method: form.method,
				body: get ? undefined : asked,
				headers: { Accept: "text/html" },
				signal: mine.signal,
			});
			if (!answer.ok || answer.redirected) throw new Error(answer.status);
			const html = await answer.text();
			if (running === mine && said !== html) {
				into.innerHTML = said = html;
				part();
			}
		} catch (fault) {
			// Advice about what the form said before must not stand beside what it says now.
			if (fault.name !== "AbortError") {
				into.textContent = said = into.dataset.failed || "";
				part();
			}
		}
	};
	const soon = () => { clearTimeout(timer); timer = setTimeout(ask, 250); };
	form.addEventListener("input", soon);
	form.addEventListener("change", soon);
}

// ---- live board

const sameTag = (a, b) => a && b && a.tagName === b.tagName;

// morph makes the children of now like those of next: by id, and only those
// that differ, so that focus and scroll stay where they are.
function morph(now, next) {
	const kept = new Map([...now.children].filter((c) => c.id).map((c) => [c.id, c]));
	let at = now.firstElementChild;
	for (const fresh of [...next.children]) {
		const old = kept.get(fresh.id);
		if (!old || !sameTag(old, fresh)) {
			now.insertBefore(fresh, at);
			continue;
		}
		kept.delete(fresh.id);
		if (old === at) at = at.nextElementSibling;
		else now.insertBefore(old, at);
		// What a person has opened stays open.
		for (const kept of all("details[open][id]", old)) fresh.querySelector(`#${CSS.escape(kept.id)}`)?.setAttribute("open", "");
		if (old.outerHTML === fresh.outerHTML) continue;
		if (old.hasAttribute("data-rows")) {
			for (const a of [...fresh.attributes]) old.setAttribute(a.name, a.value);
			morph(old, fresh);
		} else old.replaceWith(fresh);
	}
	while (at) {
		const gone = at;
		at = at.nextElementSibling;
		gone.remove();
	}
}

// placeKept does work on a region and keeps what a person was at: the focus on
// the same thing, the row they look at at the same height, details open. Where
// the thing in focus has gone, the focus goes to the region and to no other
// patient's row.
function placeKept(region, next, work) {
	for (const d of all("details[id]", next)) d.open = !!document.getElementById(d.id)?.open;
	const parts = "[data-rows] > [id], [data-live] > [id]";
	const focus = region.contains(document.activeElement) ? document.activeElement : null;
	const inView = (e) => e.getBoundingClientRect().bottom > 0 && !e.matches(":has([data-rows])");
	const row = focus?.closest(parts) || (scrollY > 0 ? all(parts, region).find(inView) : null);
	const height = row?.getBoundingClientRect().top;
	work();
	const again = row && document.getElementById(row.id);
	if (focus && document.activeElement !== focus) {
		const same = (e) => e.tagName === focus.tagName && e.getAttribute("href") === focus.getAttribute("href");
		const found = again && all("a[href],button,summary", again).find(same);
		if (!found) region.tabIndex = -1;
		(found || region).focus({ preventScroll: true });
	}
	if (again) window.scrollBy(0, again.getBoundingClientRect().top - height);
}

for (const region of all("[data-live]")) {
	const note = document.querySelector(`[data-live-note="${region.id}"]`);
	let stream, again, due, busy = false, more = false, wait = 1000;
	const stale = (yes) => { if (note) note.hidden = !yes; };

	// A part of the page may say when it changes by itself.
	const watch = () => {
		clearTimeout(due);
		const next = Math.min(...all("[data-due]", region).map((e) => Date.parse(e.dataset.due)).filter((t) => t > Date.now()));
		if (next < Infinity) due = setTimeout(refresh, Math.min(next - Date.now() + 500, 2 ** 31 - 1));
	};
	const refresh = async () => {
		if (busy) { more = true; return; }
		busy = true;
		more = false;
		try {
			const answer = await fetch(region.dataset.livePage, { headers: { Accept: "text/html", "X-Background": "1" } });
			if (answer.status === 401 || answer.redirected) { location.reload(); return; }
			if (!answer.ok) throw new Error(answer.status);
			const page = new DOMParser().parseFromString(await answer.text(), "text/html");
			const next = page.getElementById(region.id) || page.body;
			placeKept(region, next, () => morph(region, next));
			if (next.dataset.live) region.dataset.live = next.dataset.live;
			stale(false);
		} catch {
			stale(true);
			setTimeout(refresh, 15000);
		} finally {
			busy = false;
		}
		watch();
		if (more) refresh();
	};
	const listen = () => {
		clearTimeout(again);
		stream?.close();
		stream = new EventSource(region.dataset.live);
		let late = false;
		stream.addEventListener("open", () => { wait = 1000; if (late) refresh(); late = false; });
		stream.addEventListener("changed", refresh);
		stream.addEventListener("ended", refresh); // which leads to the sign-in page
		stream.addEventListener("error", () => {
			late = true;
			stale(true);
			if (stream.readyState === EventSource.CLOSED) {
				// Ask once whether the session still stands, then try again, ever slower.
				again = setTimeout(() => { refresh(); listen(); }, wait);
				wait = Math.min(wait * 2, 60000);
			}
		});
	};
	document.addEventListener("visibilitychange", () => { if (!document.hidden) refresh(); });
	addEventListener("pagehide", () => stream?.close());
	addEventListener("pageshow", (e) => { if (e.persisted) { listen(); refresh(); } });
	listen();
	watch();
}

// ---- rows that can be added and taken out

for (const group of all("[data-repeat]")) {
	const items = () => all("[data-item]", group);
	const count = () => items().forEach((item, i, list) => {
		for (const n of all("[data-number]", item)) n.textContent = i + 1;
		const out = item.querySelector("[data-remove]");
		if (out) out.hidden = list.length === 1;
	});
	const changed = () => { count(); group.dispatchEvent(new Event("change", { bubbles: true })); };
	group.addEventListener("click", (e) => {
		const button = e.target.closest("[data-add],[data-remove]");
		if (!button) return;
		e.preventDefault();
		if (button.hasAttribute("data-remove")) {
			button.closest("[data-item]").remove();
			changed();
			group.querySelector("[data-add]").focus();
			return;
		}
		const model = group.querySelector("template");
		const n = Math.max(0, ...items().map((i) => +i.dataset.item)) + 1;
		const holder = document.createElement("template");
		holder.innerHTML = model.innerHTML.replaceAll("__N__", n);
		const before = items().at(-1);
		model.before(holder.content);
		// Mostly the same hand tries again; who did not is chosen anew.
		const who = (item) => item?.querySelector('[name$=".operator"]');
		if (who(before)) who(items().at(-1)).value = who(before).value;
		changed();
		items().at(-1).querySelector("input,select,textarea")?.focus();
	});
	count();
}

// ---- blanking: after a while without a person's act, references are hidden

const idleMinutes = +document.body.dataset.idleMinutes;
if (idleMinutes > 0) {
	const note = document.querySelector("[data-idle-note]");
	let last = Date.now();
	const blank = () => {
		document.documentElement.classList.add("idle");
		document.title = document.querySelector(".brand").innerText.trim();
		note.hidden = false;
	};
	const check = () => { if (Date.now() - last >= idleMinutes * 60000) blank(); };
	const act = () => { check(); last = Date.now(); };
	for (const kind of ["pointerdown", "keydown", "touchstart"]) addEventListener(kind, act, { passive: true, capture: true });
	// A tablet that slept blanks before anybody reads it.
	document.addEventListener("visibilitychange", check);
	addEventListener("pageshow", check);
	setInterval(check, 5000);
	note.querySelector("[data-reload]").addEventListener("click", () => location.reload());
}

// ---- a slider over hours: says where it stands, and asks when it rests

for (const slider of all("[data-slides]")) {
	const said = document.getElementById(slider.dataset.slides);
	const wall = new Intl.DateTimeFormat("en-GB", {
		timeZone: slider.dataset.zone, weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", timeZoneName: "short",
	});
	let rests;
	slider.addEventListener("input", () => {
		const back = +slider.value;
		said.value = back ? wall.format(Date.parse(slider.dataset.from) - back * 3600000) : said.dataset.now;
		slider.setAttribute("aria-valuetext", said.value);
	});
	// Each press of an arrow key is a change of its own.
	slider.addEventListener("change", () => { clearTimeout(rests); rests = setTimeout(() => slider.form.requestSubmit(), 900); });
}
