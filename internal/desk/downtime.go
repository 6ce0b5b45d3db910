package desk

import (
	"context"

	"dwellbook/internal/line"
)

// Downtime is the lines of every open ward, for paper that stands in for the
// program while it is not to be had.
type Downtime struct {
	Made  line.Minute
	Seq   int64    // what is on the paper is known at least up to this entry
	Wards []*Round // in order of name
}

// Downtime answers for now.
func (d *Desk) Downtime(ctx context.Context, who Person) (*Downtime, error) {
	seq, err := d.store.LastSeq(ctx) // before the rest is read, so that the rest holds it
	if err != nil {
		return nil, err
	}
	wards, err := d.Wards(ctx, who)
	if err != nil {
		return nil, err
	}
	sheets := &Downtime{Made: d.Now(), Seq: seq}
	for _, w := range wards {
		r, err := d.Round(ctx, who, w.Ward.Ward)
		if err != nil {
			return nil, err
		}
		sheets.Wards = append(sheets.Wards, r)
	}
	return sheets, nil
}
