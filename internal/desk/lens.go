package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Known says how much of the record a question may see: what was recorded
// before At, or up to the entry Seq; neither: all of it.
type Known struct {
	At  time.Time
	Seq int64
}

// lens is the record as one question sees it.
type lens struct {
	known Known           // resolved: both are set; Seq is 0 where nothing was known
	upTo  int64           // as the store takes it
	book  *audit.Rulebook // as known then, or a policy on trial
}

// nothing is a place in the record before the first entry.
const nothing = -1

// through resolves what a question may see, once.
func (d *Desk) through(ctx context.Context, h *House, k Known, trial *audit.Policy) (*lens, error) {
	l := &lens{known: k, upTo: k.Seq}
	var err error
	switch {
	case k.Seq != 0:
	case !k.At.IsZero():
		l.known.Seq, err = d.store.SeqBefore(ctx, k.At)
	default:
		l.known.Seq, err = d.store.LastSeq(ctx)
	}
	if err != nil {
		return nil, fmt.Errorf("resolve what was known: %w", err)
	}
	if l.upTo = l.known.Seq; l.upTo == 0 {
		l.upTo = nothing
	}
	if k.At.IsZero() {
		l.known.At = d.clock()
	}
	l.book = h.Rulebook.KnownAt(l.known.Seq)
	if trial != nil {
		l.book = l.book.WithPolicy(trial)
	}
	return l, nil
}

// refuseUnknown refuses a ward or a rule that there is not: an answer about
// nothing would read as calm. Empty is any.
func (h *House) refuseUnknown(ward line.ID, rule line.Rule) error {
	if _, ok := h.Ward(ward); ward != "" && !ok {
		return fault.Field("ward", "fault.no-such-ward")
	}
	if rule != "" && !slices.ContainsFunc(audit.Rules(), func(r audit.RuleInfo) bool { return r.Rule == rule }) {
		return fault.Field("rule", "desk.no-such-rule")
	}
	return nil
}

// each gives the marks of every patient who may have had a duty or a concern
// in a stretch of time, as the lens sees them.
func (d *Desk) each(ctx context.Context, l *lens, in line.Stretch, f func(line.Key, []line.Mark) error) error {
	return d.eachOf(ctx, l, 0, in, f)
}

// eachOf is each for those who may have been on one ward; 0: on any.
func (d *Desk) eachOf(ctx context.Context, l *lens, ward line.Key, in line.Stretch, f func(line.Key, []line.Mark) error) error {
	// A line that was in when the record was last known may not have been known
	// to come out; and a site is watched for a while after its line is out.
	in.From = min(in.From.Add(-l.book.Watch()), line.MinuteOf(l.known.At))
	candidates := d.store.Candidates
	if ward != 0 {
		candidates = func(ctx context.Context, from, until line.Minute) ([]line.Key, error) {
			return d.store.WardCandidates(ctx, ward, from, until)
		}
	}
	subjects, err := candidates(ctx, in.From, in.Until)
	if err != nil {
		return fmt.Errorf("candidates from %s to %s: %w", in.From, in.Until, err)
	}
	if err := d.store.MarksOf(ctx, subjects, l.upTo, f); err != nil {
		return fmt.Errorf("read marks: %w", err)
	}
	return nil
}
