// Reads a label's code with the device's camera, where the browser can read
// codes. Only the path of what is read is followed, and only on this server.
"use strict";

{
	const pane = document.querySelector("[data-scan]");
	const [button, said, video] = ["button", "[role=status]", "video"].map((part) => pane.querySelector(part));
	const say = (what) => { said.textContent = pane.dataset[what] || ""; };
	let stream;

	const stop = () => {
		for (const track of stream?.getTracks() || []) track.stop();
		stream = video.srcObject = null;
		video.hidden = true;
		button.hidden = false;
	};
	const opens = (text) => {
		try {
			const path = new URL(text).pathname;
			return path.startsWith(pane.dataset.opens) ? path : undefined;
		} catch {
			return undefined; // no address at all
		}
	};
	const look = async (reader) => {
		const mine = stream;
		while (stream === mine) {
			const codes = await reader.detect(video).catch(() => []); // there may be no picture yet
			if (stream !== mine) return;
			const path = codes.map((code) => opens(code.rawValue)).find(Boolean);
			if (path) {
				stop();
				location.assign(path);
				return;
			}
			if (codes.length > 0) say("other");
			await new Promise((next) => setTimeout(next, 150));
		}
	};
	const start = async () => {
		button.hidden = true;
		try {
			stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
		} catch (fault) {
			button.hidden = false;
			say(fault.name === "NotAllowedError" ? "refused" : "noCamera");
			return;
		}
		video.srcObject = stream;
		video.hidden = false;
		video.play().catch(() => {}); // what cannot play shows no picture
		say("looking");
		look(new BarcodeDetector({ formats: ["qr_code"] }));
	};
	// Browsers give the camera over HTTPS only, and few can read codes.
	const can = async () => navigator.mediaDevices && "BarcodeDetector" in window && (await BarcodeDetector.getSupportedFormats()).includes("qr_code");

	can().then((yes) => {
		if (yes) button.hidden = false;
		else say("cannot");
	});
	button.addEventListener("click", start);
	document.addEventListener("visibilitychange", () => { if (document.hidden && stream) { stop(); say(""); } });
}
