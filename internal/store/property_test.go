package store_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// past is a random record in the making: what was accepted, for choosing from.
type past struct {
	*ward
	rt     *rapid.T
	roots  []line.Entry
	latest map[line.ID]line.ID // by root
	sent   []line.Entry
	when   []line.Minute // when each of them was recorded
}

var (
	somebody = []line.ID{"p1", "p2", "p3"}
	someLine = []line.ID{"l1", "l2", "l3", "l4"}
)

func (p *past) body(k line.Kind) line.Body {
	ward := rapid.SampledFrom([]line.ID{"north", "south"}).Draw(p.rt, "ward")
	switch k {
	case line.KindAdmission:
		return line.Admission{Ward: ward, Bed: "1", Reference: "R"}
	case line.KindTransfer:
		return line.Transfer{Ward: ward, Bed: "2"}
	case line.KindDischarge:
		d := line.Discharge{}
		if rapid.Bool().Draw(p.rt, "left in") {
			d.LeftIn = []line.ID{rapid.SampledFrom(someLine).Draw(p.rt, "left")}
		}
		return d
	case line.KindOccasion:
		o := line.Occasion{Outcome: rapid.SampledFrom([]line.Outcome{line.WithLine, line.WithLine, line.WithLine, line.WithoutLine, line.BeforeSkin}).Draw(p.rt, "outcome")}
		o.Site, o.Gauge, o.Operator.Written = line.Wrist, 20, "J Q"
		if rapid.Bool().Draw(p.rt, "supervised") {
			o.Supervisor = line.Operator{Account: "p2"}
		}
		if o.Outcome == line.WithoutLine && rapid.Bool().Draw(p.rt, "in detail") {
			o.Attempts = []line.Attempt{{Operator: line.Operator{Account: "p1"}, Failed: true, Difficulty: line.SetOf(line.VeinSmall)}}
		}
		if o.Outcome == line.BeforeSkin {
			o.Stopped = line.NoVeinFound
		}
		return o
	case line.KindReview:
		return line.Review{Signs: line.SetOf(line.Pain)}
	case line.KindRemoval:
		return line.Removal{Reason: rapid.SampledFrom([]line.Reason{line.NotNeeded, line.FoundGone}).Draw(p.rt, "reason")}
	case line.KindSiteCheck:
		return line.SiteCheck{}
	case line.KindAccount:
		return line.Account{Account: rapid.SampledFrom(somebody).Draw(p.rt, "who"), SignIn: rapid.SampledFrom([]string{"ada", "bo"}).Draw(p.rt, "name"), Role: "nurse"}
	case line.KindOperatorLink:
		return line.OperatorLink{Account: "p1", Written: "J Q", Accepted: rapid.SampledFrom([]line.Answer{line.Yes, line.No}).Draw(p.rt, "accepted")}
	case line.KindAttemptAgreement:
		version := line.ID("nobody's")
		if len(p.sent) > 0 {
			version = rapid.SampledFrom(p.sent).Draw(p.rt, "version").ID
		}
		return line.AttemptAgreement{Account: rapid.SampledFrom(somebody).Draw(p.rt, "who"), Version: version, Agreed: rapid.SampledFrom([]line.Answer{line.Yes, line.No}).Draw(p.rt, "agreed")}
	case line.KindRecordShare:
		return line.RecordShare{Share: rapid.SampledFrom(someLine).Draw(p.rt, "share"), Account: rapid.SampledFrom(somebody).Draw(p.rt, "whose"), With: "reader", TakenBack: rapid.Bool().Draw(p.rt, "taken back")}
	case line.KindWard:
		return line.Ward{Ward: ward, Name: "N", Zone: "UTC"}
	case line.KindJustification:
		return line.Justification{Rule: "idle-line", Clinician: "Dr A", Why: "planned", Until: at(500)}
	}
	if k == line.KindErasure {
		return line.Erasure{Why: "asked for"}
	}
	return line.Facts{Group: line.Adult, Limits: []line.Limit{{Limb: line.LeftArm, Why: line.Fistula}}}
}

func (p *past) random(k line.Kind) line.Entry {
	// Few moments, so that many fall together.
	hours := float64(rapid.IntRange(0, 12).Draw(p.rt, "moment")) * 20
	subject, l := rapid.SampledFrom(somebody).Draw(p.rt, "patient"), line.ID("")
	switch k {
	case line.KindOccasion, line.KindReview, line.KindRemoval, line.KindSiteCheck, line.KindJustification:
		l = rapid.SampledFrom(someLine).Draw(p.rt, "line")
		// Mostly the patient who has the line, else little would be accepted.
		if k != line.KindOccasion && rapid.IntRange(0, 5).Draw(p.rt, "slip") > 0 {
			if c, err := p.Line(p.t.Context(), l); err == nil {
				subject = c.SubjectID
				hours = float64(c.Placed-at(0))/60 + float64(rapid.IntRange(0, 5).Draw(p.rt, "later"))*20
			}
		}
	}
	if k >= line.KindPolicy {
		subject = ""
	}
	return p.entry(subject, l, hours, p.body(k))
}

var kinds = []line.Kind{
	line.KindAdmission, line.KindAdmission, line.KindTransfer, line.KindDischarge, line.KindOccasion, line.KindOccasion, line.KindOccasion,
	line.KindReview, line.KindReview, line.KindRemoval, line.KindSiteCheck, line.KindJustification, line.KindFacts,
	line.KindErasure, line.KindAccount, line.KindOperatorLink, line.KindWard,
	line.KindAttemptAgreement, line.KindRecordShare,
}

// step sends one or two entries and keeps what was accepted.
func (p *past) step() {
	p.clock.now = p.clock.now.Add(11 * time.Hour)
	var batch []line.Entry
	for range rapid.IntRange(1, 2).Draw(p.rt, "together") {
		batch = append(batch, p.choose())
	}
	receipts, err := p.Append(p.t.Context(), line.Batch{Entries: batch})
	if err != nil {
		require.Contains(p.rt, []fault.Kind{fault.Invalid, fault.Conflict}, fault.KindOf(err), "%v", err)
		return
	}
	for i, e := range batch {
		sentBefore := slices.ContainsFunc(p.sent, func(o line.Entry) bool { return o.ID == e.ID })
		require.Equal(p.rt, sentBefore, receipts[i].Again)
		if sentBefore {
			continue
		}
		p.sent = append(p.sent, e)
		p.when = append(p.when, line.MinuteOf(receipts[i].Recorded))
		switch b := e.Body.(type) {
		case line.Correction:
			p.latest[b.Root] = e.ID
		case line.Void:
			p.latest[b.Root] = e.ID
		default:
			p.roots = append(p.roots, e)
			p.latest[e.ID] = e.ID
		}
	}
}

func (p *past) choose() line.Entry {
	what := rapid.IntRange(0, 9).Draw(p.rt, "what")
	switch {
	case what == 0 && len(p.sent) > 0:
		return rapid.SampledFrom(p.sent).Draw(p.rt, "again")
	case what == 1 && len(p.roots) > 0:
		root := rapid.SampledFrom(p.roots).Draw(p.rt, "withdrawn")
		return p.void(root.Subject, root.ID, p.latest[root.ID])
	case what <= 4 && len(p.roots) > 0:
		root := rapid.SampledFrom(p.roots).Draw(p.rt, "corrected")
		if root.Kind == line.KindOccasion && rapid.Bool().Draw(p.rt, "only the patient") {
			moved := root
			moved.Subject = rapid.SampledFrom(somebody).Draw(p.rt, "to")
			return p.correction(root.ID, p.latest[root.ID], moved)
		}
		return p.correction(root.ID, p.latest[root.ID], p.random(root.Kind))
	}
	return p.random(rapid.SampledFrom(kinds).Draw(p.rt, "kind"))
}

// TestRecord_WhateverHappens: after any history, a rebuild finds nothing
// wrong; what stands as known at each place is what a plain replay up to there
// gives; and the record read into an empty one is the same record.
func TestRecord_WhateverHappens(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		w := newWard(t)
		p := &past{ward: w, rt: rt, latest: map[line.ID]line.ID{}}
		p.clock.now = at(120).Time()
		for range rapid.IntRange(1, 30).Draw(rt, "steps") {
			p.step()
		}
		requireRebuilt(rt, w)
		require.NoError(rt, w.Check(t.Context()))
		p.requireReplay(w.record)
		p.requireCandidates(w.record)

		other := newWard(t)
		all := sealed(t, w)
		for len(all) > 0 {
			n := rapid.IntRange(1, len(all)).Draw(rt, "portion")
			_, err := other.AppendSealed(t.Context(), all[:n])
			require.NoError(rt, err)
			all = all[n:]
		}
		requireRebuilt(rt, other)
		p.requireReplay(other.record)
		require.Equal(rt, bytesOf(sealed(t, w)), bytesOf(sealed(t, other)))
		require.NoError(t, w.Close())
		require.NoError(t, other.Close())
	})
}

func bytesOf(list []line.SealedEntry) []string {
	var all []string
	for _, e := range list {
		all = append(all, fmt.Sprintf("%d %s %v", e.Seq, e.Canonical, e.Texts))
	}
	return all
}

// requireReplay compares the marks as known at each place with those of a
// plain replay: the latest version of each entry, in the patient it names or,
// where its line has moved on from that patient, in the one the line is of.
func (p *past) requireReplay(r record) {
	keys := fixedKeys{}
	for _, id := range somebody {
		if patient, err := r.Patient(p.t.Context(), id); err == nil {
			keys[id] = patient.Key
		}
	}
	for _, id := range someLine {
		keys[id] = store.LineKeyOf(p.t, r.(*store.Store), id)
	}
	wards, err := r.WardKeys(p.t.Context())
	require.NoError(p.rt, err)
	for id, key := range wards {
		keys[id] = key
	}
	for seq := range len(p.sent) + 1 {
		want := p.replay(keys, p.sent[:seq])
		for _, id := range somebody {
			key, ok := keys[id]
			if !ok || seq == 0 {
				continue
			}
			got, err := r.Marks(p.t.Context(), key, int64(seq))
			require.NoError(p.rt, err)
			var plain []string
			for _, m := range got {
				require.True(p.rt, m.StandsAt(int64(seq)))
				plain = append(plain, unversioned(m))
			}
			require.ElementsMatch(p.rt, want[key], plain, "patient %s as known at %d", id, seq)
		}
	}
}

// requireCandidates: whoever had a line in, or in its site's watch, or an
// occasion in the last day, at a moment and as known at a place no earlier, is
// among the candidates of that moment.
func (p *past) requireCandidates(r record) {
	for moment := at(0); moment < at(480); moment += 20 * 60 {
		found, err := r.Candidates(p.t.Context(), moment, moment)
		require.NoError(p.rt, err)
		for seq := 1; seq <= len(p.sent); seq++ {
			if p.when[seq-1] < moment {
				continue
			}
			for _, id := range somebody {
				patient, err := r.Patient(p.t.Context(), id)
				if err != nil || slices.Contains(found, patient.Key) {
					continue
				}
				marks, err := r.Marks(p.t.Context(), patient.Key, int64(seq))
				require.NoError(p.rt, err)
				require.False(p.rt, matters(line.Fold(marks), moment), "patient %s at %s as known at %d", id, moment, seq)
			}
		}
	}
}

func matters(s line.Subject, at line.Minute) bool {
	watch := func(l *line.Line) bool { return l.Placed <= at && (l.Removal == nil || at < l.Removal.At+48*60) }
	tried := func(o line.Mark) bool { return o.At <= at && at < o.At+24*60 }
	return slices.ContainsFunc(s.Lines, watch) || slices.ContainsFunc(s.Occasions, tried)
}

func unversioned(m line.Mark) string {
	m.Known, m.Gone = 0, 0
	return fmt.Sprintf("%+v", m)
}

type fixedKeys map[line.ID]line.Key

func (k fixedKeys) SubjectKey(id line.ID) line.Key { return k[id] }
func (k fixedKeys) LineKey(id line.ID) line.Key    { return k[id] }
func (k fixedKeys) WardKey(id line.ID) line.Key    { return k[id] }

type version struct {
	seq    int
	stands *line.Entry
}

func (p *past) replay(keys fixedKeys, sent []line.Entry) map[line.Key][]string {
	roots := map[line.ID]*version{}
	var order []*version
	owner := map[line.ID]*version{}
	formers := map[line.ID]map[line.ID]bool{}
	home := map[line.ID]line.ID{}
	own := func(v *version) {
		e := v.stands
		if e.Kind != line.KindOccasion {
			return
		}
		o := owner[e.Line]
		if o != nil && o != v && o.stands != nil && o.stands.Line == e.Line {
			return
		}
		owner[e.Line] = v
		if formers[e.Line] == nil {
			formers[e.Line] = map[line.ID]bool{}
		}
		if was := home[e.Line]; was != "" && was != e.Subject {
			formers[e.Line][was] = true
		}
		home[e.Line] = e.Subject
		delete(formers[e.Line], e.Subject)
	}
	for i := range sent {
		switch b := sent[i].Body.(type) {
		case line.Correction:
			v := roots[b.Root]
			replacement := b.Replacement
			v.stands = &replacement
			own(v)
		case line.Void:
			roots[b.Root].stands = nil
		default:
			v := &version{seq: i + 1, stands: &sent[i]}
			roots[sent[i].ID] = v
			order = append(order, v)
			own(v)
		}
	}
	want := map[line.Key][]string{}
	for _, v := range order {
		if v.stands == nil {
			continue
		}
		e := *v.stands
		if e.Line != "" && e.Kind != line.KindOccasion && formers[e.Line][e.Subject] {
			e.Subject = home[e.Line]
		}
		for _, m := range line.Marks(e, keys, int64(v.seq), 0) {
			want[m.Subject] = append(want[m.Subject], unversioned(m))
		}
	}
	return want
}
