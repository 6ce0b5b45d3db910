// A button that prints the page; without script the browser's own print does.
"use strict";

for (const button of document.querySelectorAll("[data-print]")) {
	button.hidden = false;
	button.addEventListener("click", () => print());
}
