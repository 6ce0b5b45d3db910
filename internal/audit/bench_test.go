package audit_test

import (
	"testing"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// fourDays are the marks of a patient with one line, in for four days, looked at each shift.
func fourDays(subject line.Key, start line.Minute) []line.Mark {
	seq := int64(0)
	var marks []line.Mark
	add := func(m line.Mark) {
		seq++
		m.Subject, m.Seq, m.Known, m.Precision = subject, seq, seq, line.ToMinute
		marks = append(marks, m)
	}
	l := subject + 1000
	add(line.Mark{Kind: line.KindAdmission, At: start, Ward: wardA})
	add(line.Mark{Kind: line.KindOccasion, Line: l, At: start + 60, Detail: line.Detail{
		Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Material: line.Film, Flags: line.OperatorNamed, Attempts: 1, MostByOne: 1,
	}})
	for i := range line.Minute(8) {
		m := line.Mark{Kind: line.KindReview, Line: l, At: start + 400 + i*720, Detail: line.Detail{States: line.SetOf(line.Intact)}}
		if i%2 == 0 {
			m.Needed, m.Used = line.Yes, line.Yes
		}
		add(m)
	}
	return marks
}

// BenchmarkAssess counts how many duties a second one core works out.
func BenchmarkAssess(b *testing.B) {
	book, start := generatedBook(), line.MinuteOf(starts[2])
	marks := fourDays(1, start)
	marks = append(marks, line.Mark{
		Subject: 1, Seq: 99, Known: 99, Kind: line.KindRemoval, Precision: line.ToMinute, Line: 1001, At: start + 4*24*60, Detail: line.Detail{Reason: line.NotNeeded},
	})
	duties := 0
	b.ReportAllocs()
	for b.Loop() {
		a := audit.Assess(book, marks, start+6*24*60)
		duties += len(a.Duties)
	}
	b.ReportMetric(float64(duties)/b.Elapsed().Seconds(), "duties/s")
}

// BenchmarkBoard works out a ward of 60 lines with nothing kept from before.
func BenchmarkBoard(b *testing.B) {
	book, start := generatedBook(), line.MinuteOf(starts[2])
	patients := make([][]line.Mark, 60)
	for i := range patients {
		patients[i] = fourDays(line.Key(i+1), start+line.Minute(i*7))
	}
	found := 0
	b.ReportAllocs()
	for b.Loop() {
		for _, marks := range patients {
			a := audit.Assess(book, marks, start+5*24*60)
			found += len(a.Findings())
			a.Next(a.Subject + 1000)
		}
	}
	b.ReportMetric(float64(found)/float64(b.N), "findings")
}

// BenchmarkTally counts a year's duties by ward on one core, assessing included.
func BenchmarkTally(b *testing.B) {
	book, start := generatedBook(), line.MinuteOf(starts[2])
	patients := make([][]line.Mark, 100)
	for i := range patients {
		patients[i] = fourDays(line.Key(i+1), start+line.Minute(i*60))
	}
	for _, by := range []audit.By{audit.ByWard, audit.ByShift, audit.ByCell} {
		b.Run(by.String(), func(b *testing.B) {
			duties := 0
			b.ReportAllocs()
			for b.Loop() {
				t := audit.NewTally(book, audit.Counting{Period: line.Stretch{From: start, Until: start + 30*24*60}, By: by})
				for _, marks := range patients {
					a := audit.AssessDuties(book, marks, start+40*24*60)
					duties += len(a.Duties)
					t.Add(&a)
				}
			}
			b.ReportMetric(float64(duties)/b.Elapsed().Seconds(), "duties/s")
		})
	}
}
