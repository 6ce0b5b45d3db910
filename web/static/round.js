// The look in two taps, and the round. Without script each step is a page of
// its own; with it no tap waits for the network.
"use strict";

// A second tap of a double tap must not answer the next question.
const settleMS = 350;
let shown = 0;

function showPart(stop, part) {
	stop.dataset.part = part;
	shown = performance.now();
	stop.querySelector(`[data-is="${part}"] :is(input:not([type=hidden]), button, a)`)?.focus({ preventScroll: true });
}

document.addEventListener("click", (e) => {
	const link = e.target.closest(".stop [data-to]");
	if (!link || e.ctrlKey || e.metaKey) return;
	e.preventDefault();
	showPart(link.closest(".stop"), link.dataset.to);
});

document.addEventListener("submit", (e) => {
	if (!e.target.closest(".stop") || performance.now() - shown >= settleMS) return;
	e.preventDefault();
	e.stopImmediatePropagation();
}, true);

// A key that is held down presses once.
document.addEventListener("keydown", (e) => { if (e.key === "Enter" && e.repeat) e.preventDefault(); });

// An offer to undo ends by itself.
function endUndo(note) { setTimeout(() => note.remove(), +note.dataset.undo * 1000); }
for (const note of document.querySelectorAll("[data-undo]")) endUndo(note);

const round = document.querySelector("[data-round]");
if (round) walk(round);

function walk(round) {
	const stops = [...round.querySelectorAll("[data-stop]")];
	const told = round.querySelector("[data-told]");
	const unsentNotes = round.querySelector("[data-unsent]");
	const counter = round.querySelector(".ways [data-left]");
	const ways = [...round.querySelectorAll("[data-go]")];
	const sending = new Set(); // promises
	let kept = false; // on the device, so that the record cannot tell of it yet
	let at = stops.findIndex((s) => !s.hidden);

	const isLeft = (stop) => stop.hasAttribute("data-left");
	const count = () => { counter.textContent = counter.dataset.left.replace("#", stops.filter(isLeft).length); };

	function go(to) {
		if (to < 0 || to >= stops.length || to === at) return;
		const stop = stops[to];
		stops[at].hidden = true;
		stop.hidden = false;
		at = to;
		ways[0].classList.toggle("none", at === 0);
		ways[1].classList.toggle("none", at === stops.length - 1);
		scrollTo(0, 0);
		if (stop.hasAttribute("data-end")) atEnd(stop);
		else showPart(stop, isLeft(stop) ? "whose" : "done");
	}

	// The end is told by the record, once everything is in it.
	function atEnd(stop) {
		stop.querySelector("h2").focus();
		if (sending.size || kept || !navigator.onLine) return;
		const entry = told.querySelector("[data-undo]")?.dataset.entry; // still to be undone
		location.replace("?end=1" + (entry ? `&stored=${entry}` : ""));
	}

	function goOn() {
		const order = [...stops.keys()].map((i) => (at + 1 + i) % stops.length);
		go(order.find((i) => isLeft(stops[i])) ?? stops.length - 1);
	}

	const note = (model, into, text) => {
		const made = round.querySelector(`template[${model}]`).content.firstElementChild.cloneNode(true);
		(made.querySelector("b") || made.querySelector("p")).textContent = text;
		into.append(made);
		return made;
	};

	function offerUndo(stop, form, text, sent) {
		told.querySelector("[data-undo]")?.remove();
		const made = note("data-undo-model", told, text);
		made.dataset.entry = form.get("entry");
		const undo = made.querySelector("form");
		undo.action = undo.dataset.entries + form.get("entry") + "/undo";
		undo.elements.to.value = `${location.pathname}?line=${stop.id.slice("stop-".length)}`;
		undo.addEventListener("submit", (e) => {
			e.preventDefault();
			sent.then(() => undo.submit()); // what is not stored cannot be withdrawn
		});
		endUndo(made);
	}

	// send stores a look. Where the server cannot be reached it is tried again;
	// what the server refuses is shown as it answers.
	async function send(stop, action, form, text) {
		for (let unsent; ; await new Promise((again) => { setTimeout(again, 5000); addEventListener("online", again, { once: true }); })) {
			try {
				const answer = await fetch(action, {
					method: "POST", body: new URLSearchParams(form), headers: { "X-In-Place": "1" }, redirect: "manual", keepalive: true,
				});
				unsent?.remove();
				kept ||= answer.headers.has("X-Kept");
				if (answer.status !== 204) refused(action, form);
				return;
			} catch {
				unsent ||= note("data-unsent-model", unsentNotes, text);
			}
		}
	}

	// refused sends the look as a page does: the answer says what is wrong.
	function refused(action, form) {
		const again = document.createElement("form");
		again.method = "post";
		again.action = action;
		again.hidden = true;
		for (const [name, value] of form) {
			const input = document.createElement("input");
			input.name = name;
			input.value = value;
			again.append(input);
		}
		document.body.append(again);
		again.submit();
	}

	round.addEventListener("submit", (e) => {
		const stop = e.target.closest("[data-stop]");
		const text = e.submitter?.dataset.said;
		if (!stop || !text) return;
		e.preventDefault();
		const form = new FormData(e.target, e.submitter);
		const sent = send(stop, e.target.action, form, text);
		sending.add(sent);
		sent.finally(() => {
			sending.delete(sent);
			if (!sending.size && stops[at].hasAttribute("data-end")) atEnd(stops[at]);
		});
		stop.removeAttribute("data-left");
		stop.querySelector('[data-is="done"] p').textContent = text;
		count();
		offerUndo(stop, form, text, sent);
		goOn();
	});

	round.addEventListener("click", (e) => {
		const way = e.target.closest("[data-go]");
		if (!way) return;
		e.preventDefault();
		go(at + +way.dataset.go);
	});

	addEventListener("keydown", (e) => {
		if (e.ctrlKey && e.key === "z") { told.querySelector("[data-undo] button")?.click(); return; }
		if (e.target.closest("input, select, textarea") || e.altKey || e.ctrlKey || e.metaKey) return;
		if (e.key === "ArrowRight") go(at + 1);
		if (e.key === "ArrowLeft") go(at - 1);
	});

	let from;
	round.addEventListener("touchstart", (e) => { from = e.changedTouches[0]; }, { passive: true });
	round.addEventListener("touchend", (e) => {
		const x = e.changedTouches[0].clientX - from.clientX, y = e.changedTouches[0].clientY - from.clientY;
		if (Math.abs(x) > 60 && Math.abs(x) > 2 * Math.abs(y)) go(at - Math.sign(x));
	}, { passive: true });

	addEventListener("beforeunload", (e) => { if (unsentNotes.children.length) e.preventDefault(); });

	// Somebody else may have gone on with the round meanwhile.
	let left = 0;
	document.addEventListener("visibilitychange", () => {
		if (document.hidden) left = Date.now();
		else if (Date.now() - left > 60000 && !sending.size) location.reload();
	});
}
