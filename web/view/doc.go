// Package view draws: pages and the components they are made of, in templ. It
// knows nothing of the record; it is given plain values and words. Fixed words
// of components stand in internal/words/en/kit.toml.
//
// Policy allows no inline script or style: SVG geometry is in attributes,
// never in style=. The stylesheet and the script are in web/static.
//
// # A page
//
//	templ WardPage(p WardPageData) {
//		@Layout(p.Shell) {
//			@Head(p.Ward, p.When) {
//				<a class="btn" href="/place">…</a>      the one thing to press here
//				<a href="/round">…</a>                  the rest are links
//			}
//			…
//		}
//	}
//
// Above a heading, a way back: <p class="crumb"><a href="…">Ward Alder</a></p>.
// A <section> with an <h2> parts a page. [Note] says that something was done or
// is wrong, [Empty] stands where a list has nothing, [Figures] is a row of
// large numbers with small words.
//
// # What identifies a patient
//
// Everything that names a patient (reference, free text) has class="private":
// it is blanked when nobody has used the screen for Shell.IdleMinutes. Titles of
// pages do not name patients.
//
// # Forms
//
//	@ErrorSummary(f.Message, fields)
//	<form class="beside" method="post" action="…" data-advice="/place/advice" data-advice-into="#advice">
//		<div class="form"> fields </div>
//		@Advice("advice", "…") { @Findings(known, "…") }
//		<div class="acts"> @Button(MainButton, "…", nil) … </div>
//	</form>
//
// On a phone the advice stands between the fields and the button; on a desk
// beside them. A form without advice is <form class="form">. The answer to
// data-advice is the inside of the advice: a [Findings], nothing around it.
// [TextField], [TextArea], [SelectField], [RadioField], [CheckField],
// [CheckBox], [TimeField], [HubField] and [PlaceField] keep what was typed and
// tie hint and error to their control. A lone filter form is
// <form class="filter" method="get">.
//
// [Repeat] and [RepeatItem] are rows that can be added and taken out. Names
// carry the row's number (attempt.2.site); numbers may have gaps. Without
// script the buttons post repeat=add or repeat=remove-2 and the server shows
// the form again.
//
// # Boards
//
// [LiveRegion] around an element with an id per child; [Board] with [BoardRow],
// [StripLegend] below. The script listens to Live.Stream; on the event
// "changed", on reconnection, when the page is looked at again, and when the
// moment in a row's data-due passes, it fetches Live.Page (with the header
// X-Background: 1) and takes over the children, by id, that differ. Live.Page
// may answer with the region or with the whole page.
//
// # Tables, facts, entries
//
// [Table] stacks its rows on phones; <table class="data keep"> in a
// <div class="scroll" tabindex="0" role="region" aria-label="…"> does not.
// Numbers in cells have class="num".
//
// <dl class="facts"><dt>…</dt><dd>…</dd></dl> lists facts; <div class="sheet">
// is the one kind of box, never in another.
//
// A timeline, newest first:
//
//	<ol class="entries">
//		<li class="entry key">                         key: placement, review, removal
//			<time datetime="…">Wed 25 Nov, 15:08</time>
//			<p class="what">Dressing changed: film</p>
//			<p class="by">Nell Ashdown, recorded 15:09</p>
//			<div class="past"><del>Dressing changed: gauze</del>
//				<p class="by">Nell Ashdown, recorded 15:02; corrected 15:09: wrong box ticked</p></div>
//		</li>
//		<li class="entry struck">                      voided
//			<time …>…</time><p class="what"><del>…</del></p><p class="by">…</p>
//		</li>
//	</ol>
//
// # Single classes
//
// soft (quiet text), wrong (the red, for what is wrong only), num and n
// (tabular figures), nowrap, vh (for screen readers only), narrow (sign-in),
// reading (68 characters), stack (space between children), thumb with
// bed-large and place-large (the round, one line at a time), print-only,
// no-print.
package view
