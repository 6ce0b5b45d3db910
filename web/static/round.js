// The look in two taps, and the round. Without script each step is a page.
"use strict";

// A second tap of a double tap must not answer the next question.
const settleMS = 350;
let shown = 0;

function showPart(stop, part) {
	stop.dataset.part = part;
	shown = performance.now();
	stop.querySelector(`[data-is="${part}"] :is(input, button, a)`)?.focus({ preventScroll: true });
}

document.addEventListener("click", (e) => {
	const link = e.target.closest(".stop [data-to]");
	if (!link) return;
	e.preventDefault();
	showPart(link.closest(".stop"), link.dataset.to);
});

document.addEventListener("submit", (e) => {
	if (e.target.closest(".stop") && performance.now() - shown < settleMS) {
		e.preventDefault();
		e.stopImmediatePropagation();
	}
}, true);

// An offer to undo ends by itself.
function offerUndo(note) {
	setTimeout(() => note.querySelector("form")?.remove(), +note.dataset.undo * 1000);
}
document.querySelectorAll("[data-undo]").forEach(offerUndo);
