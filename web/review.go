package web

import (
	"net/url"
	"strconv"

	"dwellbook/internal/line"
)

func readReview(r *reader, _ *occurrence) line.Body {
	was, _ := r.old().(line.Review)
	b := line.Review{
		Signs: ticked(r, "sign", line.Pain), Dressing: ticked(r, "state", line.Intact), Flush: parsed0(r, "flush", line.FlushEasy),
		Used: parsed0(r, "used", line.Yes), Needed: parsed0(r, "needed", line.Yes), KeepUntil: r.end("keep_hours", 240, was.KeepUntil), Note: r.text("note"),
	}
	b.Score, b.Scale = r.score(was.Score, was.Scale)
	if r.form.Has("nothing_wrong") {
		if somethingWrong(b) {
			r.wrong("sign", "act.nothing-and-something")
		}
		b.Dressing = line.SetOf(line.Intact)
	}
	return b
}

// somethingWrong reports whether the form says more than that nothing is. The
// button for that is also the one that a browser presses at Enter in a field.
func somethingWrong(b line.Review) bool {
	return b.Signs != 0 || b.Dressing&^line.SetOf(line.Intact) != 0 || b.Flush > line.FlushEasy && b.Flush != line.FlushNotTried || b.Score != nil && *b.Score > 0
}

func fillReview(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Review)
	fillCodes(v, "sign", b.Signs)
	fillCodes(v, "state", b.Dressing)
	v.Set("flush", b.Flush.String())
	v.Set("used", b.Used.String())
	v.Set("needed", b.Needed.String())
	fillScore(v, b.Score)
	if b.KeepUntil != 0 {
		v.Set("keep_hours", strconv.Itoa(hours(e.Happened, b.KeepUntil)))
	}
	v.Set("note", string(b.Note))
}

// readSiteCheck reads a look at the site after removal.
func readSiteCheck(r *reader, _ *occurrence) line.Body {
	was, _ := r.old().(line.SiteCheck)
	b := line.SiteCheck{Signs: ticked(r, "sign", line.Pain), Note: r.text("note")}
	b.Score, b.Scale = r.score(was.Score, was.Scale)
	return b
}

func fillSiteCheck(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.SiteCheck)
	fillCodes(v, "sign", b.Signs)
	fillScore(v, b.Score)
	v.Set("note", string(b.Note))
}

func readNotSeen(r *reader, _ *occurrence) line.Body {
	was, _ := r.old().(line.NotSeen)
	return line.NotSeen{Why: parsed1(r, "why", line.OffWard), Returns: r.end("returns_hours", 72, was.Returns)}
}

func fillNotSeen(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.NotSeen)
	v.Set("why", b.Why.String())
	if b.Returns != 0 {
		v.Set("returns_hours", strconv.Itoa(hours(e.Happened, b.Returns)))
	}
}
