package interop

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"reflect"
	"slices"
	"time"

	"dwellbook/internal/line"
)

// Changed reports whether a sheet's entry says something else than the entry
// the record holds under the same id (its latest version). A blank cell says
// nothing, and so do the author, a first-seen moment that is no earlier, a day
// that holds the minute recorded, and "found gone" where the removal is known.
func Changed(recorded, read line.Entry) bool {
	return !reflect.DeepEqual(overlaid(recorded, read), recorded)
}

// Correction is the entry that puts the record right by a sheet: recorded, the
// latest version of the entry that has read's id, with what read says put over
// it. seen is the id under which that version was recorded. The same sheet
// read again gives the same correction.
func Correction(recorded line.Entry, seen line.ID, read line.Entry, why line.Text) line.Entry {
	replacement := overlaid(recorded, read)
	replacement.ID, replacement.Author, replacement.Recorded = read.ID, read.Author, time.Time{}
	body := line.Correction{Root: read.ID, Seen: seen, Why: why, Replacement: replacement}
	return line.Entry{
		Version: line.FormatVersion, ID: correctionID(body), Kind: line.KindCorrection, Subject: read.Subject, Author: read.Author,
		Happened: replacement.Happened, Precision: replacement.Precision, Body: body,
	}
}

// correctionID depends on what was seen and what is put in its place.
func correctionID(c line.Correction) line.ID {
	text, err := json.Marshal(c.Replacement)
	if err != nil { // every body is plain data
		panic(err)
	}
	sum := sha256.Sum256(text)
	return identity(c.Root).of("correction", string(c.Seen), hex.EncodeToString(sum[:]))
}

// overlaid is the recorded entry with what the sheet says put over it.
func overlaid(recorded, read line.Entry) line.Entry {
	e := recorded
	if removal, ok := read.Body.(line.Removal); ok && removal.Reason == line.FoundGone {
		return e // nobody saw it come out: the sheet knows no more than the record
	}
	e.Subject = read.Subject
	overlayTime(&e, read)
	switch b := read.Body.(type) {
	case line.Admission:
		old, _ := e.Body.(line.Admission)
		put(&old.Ward, b.Ward)
		put(&old.Bed, b.Bed)
		put(&old.Reference, b.Reference)
		e.Body = old
	case line.Occasion:
		old, _ := e.Body.(line.Occasion)
		e.Body = overlayOccasion(old, b)
	case line.Review:
		old, _ := e.Body.(line.Review)
		if b.Score != nil && (old.Score == nil || *old.Score != *b.Score) {
			old.Score, old.Scale = b.Score, b.Scale
		}
		e.Body = old
	case line.Dressing:
		old, _ := e.Body.(line.Dressing)
		put(&old.Material, b.Material)
		e.Body = old
	case line.Removal:
		old, _ := e.Body.(line.Removal)
		put(&old.Reason, b.Reason)
		e.Body = old
	}
	return e
}

// put says v unless v says nothing.
func put[T comparable](to *T, v T) {
	var nothing T
	if v != nothing {
		*to = v
	}
}

func overlayOccasion(old, read line.Occasion) line.Occasion {
	put(&old.Site, read.Site)
	put(&old.Side, read.Side)
	put(&old.Gauge, read.Gauge)
	put(&old.Asepsis, read.Asepsis)
	put(&old.Dressing, read.Dressing)
	if old.Operator.Account == "" { // an account says who more surely than initials
		put(&old.Operator.Written, read.Operator.Written)
	}
	if len(old.Attempts) == 0 { // attempts told one by one say more than their number
		put(&old.Count, read.Count)
	}
	return old
}

const day = 24 * 60 // minutes

func overlayTime(e *line.Entry, read line.Entry) {
	switch {
	case read.Precision == line.NotKnown && (e.Precision != line.NotKnown || read.Happened >= e.Happened):
	case read.Precision == line.ToDay && e.Precision == line.ToMinute && read.Happened <= e.Happened && e.Happened < read.Happened+day:
	default:
		e.Happened, e.Precision = read.Happened, read.Precision
	}
}

// Standing is where the record has a patient: in a ward since a moment, or, with
// an empty ward, discharged then.
type Standing struct {
	Ward  line.ID
	Since line.Minute
}

// Moves gives the admissions, transfers and discharges to record for a patient
// whom the record knows already, in place of those among the rows' entries
// (IsMove). What the record knows to have happened later stands: only later
// moves are given. Where the sheet ends in another ward than the record and
// tells of a later moment, the patient was moved between two sheets, at that
// moment at the latest: a transfer then.
func (s Sheet) Moves(patient line.ID, now Standing) []line.Entry {
	var all, later []line.Entry
	var seen line.Minute // the last moment the sheet tells of
	for _, r := range s.patients[patient] {
		seen = max(seen, r.from.latest())
		for _, e := range r.Entries {
			if IsMove(e.Kind) {
				all = append(all, e)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b line.Entry) int { return int(a.Happened - b.Happened) })
	ward := now.Ward
	for _, e := range all {
		to := wardOf(e)
		// A discharge ends a stay; an admission to where the patient is tells nothing new.
		if e.Happened > now.Since && to != ward {
			later = append(later, e)
			ward = to
		}
	}
	if now.Ward == "" {
		return s.readmitted(patient, now.Since, all, later)
	}
	if len(later) > 0 || len(all) == 0 {
		return later
	}
	last := all[len(all)-1]
	if to := wardOf(last); to != "" && to != now.Ward && seen > now.Since {
		return []line.Entry{transferred(last, to, seen)}
	}
	return nil
}

// readmitted puts an admission first where a line was placed after the
// discharge and the sheet, which cannot know of that, has no admission then.
func (s Sheet) readmitted(patient line.ID, left line.Minute, all, later []line.Entry) []line.Entry {
	var first *row
	for _, r := range s.patients[patient] {
		if r.from.placed.at > left && (first == nil || r.from.placed.at < first.placed.at) {
			first = r.from
		}
	}
	if first == nil || len(all) == 0 || len(later) > 0 && later[0].Happened <= first.placed.at {
		return later
	}
	admission, _ := all[0].Body.(line.Admission)
	e := all[0]
	e.Body = line.Admission{Ward: first.ward, Reference: admission.Reference}
	e.Happened, e.Precision = first.placed.at, first.placed.precision
	e.ID = identity(e.ID).of("readmitted", at(first.placed))
	return append([]line.Entry{e}, later...)
}

// IsMove reports whether entries of the kind say where a patient is.
func IsMove(k line.Kind) bool {
	return k == line.KindAdmission || k == line.KindTransfer || k == line.KindDischarge
}

// wardOf is the ward a move leads to; empty for a discharge.
func wardOf(e line.Entry) line.ID {
	switch b := e.Body.(type) {
	case line.Admission:
		return b.Ward
	case line.Transfer:
		return b.Ward
	}
	return ""
}

func transferred(from line.Entry, to line.ID, seen line.Minute) line.Entry {
	e := from
	body := line.Transfer{Ward: to}
	switch b := from.Body.(type) {
	case line.Admission:
		body.Bed = b.Bed
	case line.Transfer:
		body.Bed = b.Bed
	}
	m := exact(seen)
	e.Kind, e.Body, e.Happened, e.Precision = line.KindTransfer, body, m.at, m.precision
	e.ID = identity(from.ID).of("moved", at(m))
	return e
}
