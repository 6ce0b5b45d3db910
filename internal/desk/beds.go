package desk

import (
	"context"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Bed is a bed of a ward with who lies in it.
type Bed struct {
	Name     string
	Patients []line.Patient // none: free
}

// Beds are the ward's, in order: those of its list, then others with somebody in them.
func (d *Desk) Beds(ctx context.Context, who Person, ward line.ID) ([]Bed, error) {
	if err := who.require(account.RecordCare); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	w, ok := h.Ward(ward)
	if !ok {
		return nil, fault.Field("ward", "fault.no-such-ward")
	}
	patients, err := d.store.WardPatients(ctx, w.Key)
	if err != nil {
		return nil, err
	}
	sortByBed(w, patients)
	beds := make([]Bed, len(w.Beds))
	for i, name := range w.Beds {
		beds[i].Name = name
	}
	for _, p := range patients {
		if p.Ward != w.Key || p.Bed == "" { // gone, or nowhere in particular
			continue
		}
		i := slices.IndexFunc(beds, func(b Bed) bool { return b.Name == p.Bed })
		if i < 0 {
			i = len(beds)
			beds = append(beds, Bed{Name: p.Bed})
		}
		beds[i].Patients = append(beds[i].Patients, p)
	}
	return beds, nil
}
