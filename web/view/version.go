package view

import (
	"slices"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// version is one wording of an entry, with who wrote it and what ended it.
type version struct {
	entry    line.Entry
	by       string
	recorded line.Minute
	ended    desk.Event // the correction or the void; of a past version only
}

// versions gives the wording that holds, written by whoever wrote that one, and
// those before it, newest first. Of a withdrawn entry all are past.
func versions(e desk.Event) (holds version, past []version) {
	holds = version{entry: e.Entry, by: e.By, recorded: line.MinuteOf(e.Entry.Recorded)}
	for _, c := range e.Changes {
		ended := holds
		ended.ended = c
		past = append(past, ended)
		if b, ok := c.Entry.Body.(line.Correction); ok {
			holds = version{entry: b.Replacement, by: c.By, recorded: line.MinuteOf(c.Entry.Recorded)}
		}
	}
	slices.Reverse(past)
	return holds, past
}
