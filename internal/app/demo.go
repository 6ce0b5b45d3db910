package app

import (
	"context"
	"fmt"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/demo"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// DemoPassphrase opens every account of the invented hospital.
const DemoPassphrase = "paper lantern harbour"

// MakeDemo writes an invented hospital into a fresh file, through the same
// import of entries as anybody's, and gives one person of each role.
func MakeDemo(ctx context.Context, db string, seed uint64, now time.Time) ([]demo.Person, error) {
	h, err := demo.Generate(demo.Options{Seed: seed, Now: now, Policy: audit.DefaultPolicy().Text()})
	if err != nil {
		return nil, err
	}
	st, err := store.Open(ctx, db, store.Options{})
	if err != nil {
		return nil, err
	}
	people, err := fillDemo(ctx, st, h)
	if closing := st.Close(); err == nil {
		err = closing
	}
	return people, err
}

func fillDemo(ctx context.Context, st *store.Store, h demo.Hospital) ([]demo.Person, error) {
	sealed := make([]line.SealedEntry, len(h.Entries))
	n := 0
	salt := func() string { n++; return fmt.Sprintf("demo-%d", n) }
	for i, e := range h.Entries {
		canonical, texts, err := line.Canonical(e, salt)
		if err != nil {
			return nil, fmt.Errorf("invented entry %d: %w", i, err)
		}
		sealed[i] = line.SealedEntry{Canonical: canonical, Texts: texts}
	}
	for from := 0; from < len(sealed); from += entriesTogether {
		if _, err := st.AppendSealed(ctx, sealed[from:min(from+entriesTogether, len(sealed))]); err != nil {
			return nil, fmt.Errorf("store the invented hospital: %w", err)
		}
	}
	hash, err := account.Hash(DemoPassphrase)
	if err != nil {
		return nil, err
	}
	// Nobody who tries the invented hospital needs a second device.
	if err := desk.New(st, time.Now).SetStepRule(ctx, desk.System(), account.StepOptional); err != nil {
		return nil, err
	}
	var people []demo.Person
	roles := map[string]bool{}
	for _, p := range h.Staff {
		if err := st.SetSecret(ctx, p.ID, hash); err != nil {
			return nil, err
		}
		if !roles[p.Role] {
			roles[p.Role] = true
			people = append(people, p)
		}
	}
	return people, nil
}
