package desk

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"sync"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Ward is a ward as it stands now.
type Ward struct {
	Key line.Key
	line.Ward
	Location *time.Location
}

// House is the hospital as it stands now, and the rulebook of all its past.
type House struct {
	Hospital line.Hospital
	Zone     *time.Location
	Wards    []Ward // open ones first, in order of name
	Rulebook *audit.Rulebook
	People   map[line.ID]account.Account
	Links    []Link
	Policies []PolicyVersion
}

// Link is a name as written and the account it is offered to, or tied to.
type Link struct {
	ID       line.ID
	Written  string
	Account  line.ID
	Accepted line.Answer
}

// PolicyVersion is one policy and the moment it is in force from.
type PolicyVersion struct {
	From     line.Minute
	Seq      int64 // 0: the policy that the program carries, before any was put in force
	Author   line.ID
	Recorded time.Time
	Policy   *audit.Policy
}

// Ward finds a ward by id; ok is false where there is none.
func (h *House) Ward(id line.ID) (Ward, bool) {
	i := slices.IndexFunc(h.Wards, func(w Ward) bool { return w.Ward.Ward == id })
	if i < 0 {
		return Ward{}, false
	}
	return h.Wards[i], true
}

// WardByKey finds a ward by its key; a strange key gives a ward without a name.
func (h *House) WardByKey(key line.Key) Ward {
	i := slices.IndexFunc(h.Wards, func(w Ward) bool { return w.Key == key })
	if i < 0 {
		return Ward{Key: key, Location: h.Zone}
	}
	return h.Wards[i]
}

// ZoneOf is the zone of a ward, the hospital's where the ward is not known.
func (h *House) ZoneOf(ward line.Key) *time.Location { return h.WardByKey(ward).Location }

// NameOf is a person's name, or what stands for an author who is no person.
func (h *House) NameOf(id line.ID) string {
	if p, ok := h.People[id]; ok {
		return p.Name
	}
	return string(id)
}

// CheckReference refuses a patient reference that does not fit the hospital's pattern.
func (h *House) CheckReference(reference string) error {
	if h.Hospital.Reference == "" || reference == "" {
		return nil
	}
	if regexp.MustCompile(`^(?:` + h.Hospital.Reference + `)$`).MatchString(reference) {
		return nil
	}
	return fault.Field("reference", "desk.reference-pattern", "example", h.Hospital.Example)
}

type houseCache struct {
	mu   sync.Mutex
	kept *House
}

func (c *houseCache) forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.kept = nil
}

// House is the hospital as it stands now.
func (d *Desk) House(ctx context.Context) (*House, error) {
	d.house.mu.Lock()
	defer d.house.mu.Unlock()
	if d.house.kept != nil {
		return d.house.kept, nil
	}
	h, err := d.readHouse(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the house: %w", err)
	}
	d.house.kept = h
	return h, nil
}

func (d *Desk) readHouse(ctx context.Context) (*House, error) {
	entries, err := d.store.House(ctx)
	if err != nil {
		return nil, err
	}
	people, err := d.store.Accounts(ctx)
	if err != nil {
		return nil, err
	}
	h := &House{Zone: time.UTC, People: map[line.ID]account.Account{}}
	for _, p := range people {
		h.People[line.ID(p.ID)] = p
	}
	slices.SortStableFunc(entries, func(a, b line.HouseEntry) int { return int(a.Entry.Happened - b.Entry.Happened) })
	var changes []audit.Change
	for _, e := range entries {
		change, err := changeOf(e)
		if err != nil && e.Gone != 0 {
			continue // it could never be in force, and was put right
		}
		if err != nil {
			return nil, fmt.Errorf("entry %s: %w", e.Entry.ID, err)
		}
		if change != nil {
			changes = append(changes, *change)
		}
		if e.Gone == 0 {
			if err := h.take(e, change); err != nil {
				return nil, fmt.Errorf("entry %s: %w", e.Entry.ID, err)
			}
		}
	}
	h.settle()
	h.Rulebook = audit.NewRulebook(changes)
	return h, nil
}

// changeOf is the change of the rulebook that a version makes; nil where it makes none.
func changeOf(e line.HouseEntry) (*audit.Change, error) {
	change := &audit.Change{From: e.Entry.Happened, Seq: e.Seq, Known: e.Known, Gone: e.Gone}
	var err error
	switch b := e.Entry.Body.(type) {
	case line.Policy:
		change.Policy, err = audit.ParsePolicy("policy in the record", []byte(b.TOML))
	case line.Ward:
		change.Ward = e.WardKey
		change.Values = audit.WardValues{Shifts: b.Shifts, Every: time.Duration(b.Every) * time.Minute}
		change.Values.Zone, err = time.LoadLocation(b.Zone)
	default:
		return nil, nil
	}
	return change, err
}

// take puts an entry that stands into the house.
func (h *House) take(e line.HouseEntry, change *audit.Change) error {
	switch b := e.Entry.Body.(type) {
	case line.Policy:
		h.Policies = append(h.Policies, PolicyVersion{From: e.Entry.Happened, Seq: e.Seq, Author: e.Entry.Author, Recorded: e.Entry.Recorded, Policy: change.Policy})
	case line.Ward:
		w := Ward{Key: e.WardKey, Ward: b, Location: change.Values.Zone}
		if i := slices.IndexFunc(h.Wards, func(o Ward) bool { return o.Key == e.WardKey }); i >= 0 {
			h.Wards[i] = w
		} else {
			h.Wards = append(h.Wards, w)
		}
	case line.Hospital:
		zone, err := time.LoadLocation(b.Zone)
		if err != nil {
			return err
		}
		h.Hospital, h.Zone = b, zone
	case line.OperatorLink:
		h.link(e.Entry.ID, b)
	case line.Account:
		p := h.People[b.Account]
		p.Language = b.Language
		h.People[b.Account] = p
	}
	return nil
}

func (h *House) link(id line.ID, b line.OperatorLink) {
	l := Link{ID: id, Written: string(b.Written), Account: b.Account, Accepted: b.Accepted}
	i := slices.IndexFunc(h.Links, func(o Link) bool { return o.Written == l.Written && o.Account == l.Account })
	if i >= 0 {
		h.Links[i] = l
		return
	}
	h.Links = append(h.Links, l)
}

func (h *House) settle() {
	slices.SortStableFunc(h.Wards, func(a, b Ward) int {
		switch {
		case a.Closed != b.Closed && a.Closed:
			return 1
		case a.Closed != b.Closed:
			return -1
		case a.Name < b.Name:
			return -1
		case a.Name > b.Name:
			return 1
		}
		return 0
	})
}
