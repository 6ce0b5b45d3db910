package demo

import (
	"time"

	"dwellbook/internal/line"
)

// One of so many reviews, and of so many occasions, is put right later.
const (
	reviewsEach   = 700
	occasionsEach = 250
)

// mistakes corrects a few entries and withdraws one, as people do, minutes to
// an hour or two after they were recorded.
func (h *hospital) mistakes() {
	reviews, occasions := 0, 0
	for _, e := range h.out.Entries {
		if e.Happened > h.now-10*hour {
			continue
		}
		switch b := e.Body.(type) {
		case line.Review:
			if reviews++; reviews%reviewsEach != 0 {
				continue
			}
			if reviews == reviewsEach {
				h.mend(e, line.Void{Root: e.ID, Seen: e.ID, Why: "recorded for the wrong patient"})
				continue
			}
			b.Used = line.Yes
			h.correct(e, b, "it was in use, not ticked")
		case line.Occasion:
			if len(b.Attempts) == 0 || b.Outcome != line.WithLine {
				continue
			}
			if occasions++; occasions%occasionsEach != 0 {
				continue
			}
			b.Purposes = b.Purposes.With(line.ForFluids)
			b.Flush = line.FlushStiff
			h.correct(e, b, "flushed stiffly; fluids too")
		}
	}
}

func (h *hospital) correct(e line.Entry, body line.Body, why line.Text) {
	fixed := e
	fixed.Body, fixed.Recorded = body, time.Time{}
	h.mend(e, line.Correction{Root: e.ID, Seen: e.ID, Why: why, Replacement: fixed})
}

// mend writes a correction or void of an entry, by its author.
func (h *hospital) mend(e line.Entry, body line.Body) {
	at := line.MinuteOf(e.Recorded.Add(h.minutes(5, 100)))
	if mended := h.write(e.Author, at, body); mended != nil {
		mended.Subject = e.Subject
	}
}
