package desk

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"sync"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/delivery"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// mail is what taking deliveries needs.
type mail struct {
	taking sync.Mutex // one entry at a time, so that none is taken twice
	mu     sync.Mutex // guards key
	key    *delivery.Key
}

const deliveryKeySetting = "delivery-key"

// deliveryKey is the server's key, made when it is first asked for.
func (d *Desk) deliveryKey(ctx context.Context) (*delivery.Key, error) {
	d.mail.mu.Lock()
	defer d.mail.mu.Unlock()
	if d.mail.key != nil {
		return d.mail.key, nil
	}
	text, ok, err := d.store.Setting(ctx, deliveryKeySetting)
	if err != nil {
		return nil, fmt.Errorf("read the delivery key: %w", err)
	}
	if ok {
		d.mail.key, err = delivery.ParseKey(text)
		return d.mail.key, err
	}
	k, err := delivery.NewKey()
	if err != nil {
		return nil, err
	}
	if err := d.store.SetSetting(ctx, deliveryKeySetting, k.Secret()); err != nil {
		return nil, fmt.Errorf("keep the delivery key: %w", err)
	}
	d.mail.key = k
	return k, nil
}

// DeliveryTerms are what a device needs to keep what a person types on it
// while there is no network: the key to seal it to, and the person's grant.
func (d *Desk) DeliveryTerms(ctx context.Context, who Person, device line.ID) (public []byte, grant string, err error) {
	if err := who.require(account.RecordCare); err != nil {
		return nil, "", err
	}
	k, err := d.deliveryKey(ctx)
	if err != nil {
		return nil, "", err
	}
	secret, err := d.store.Secret(ctx, line.ID(who.ID))
	if err != nil {
		return nil, "", err
	}
	grant, err = k.Sign(delivery.GrantFor(string(who.ID), string(device), secret, d.clock()))
	return k.Public(), grant, err
}

// Take records what was typed as its author's own, by the way that a form of
// theirs goes.
type Take func(ctx context.Context, who Person, e delivery.Entry) error

// Fate is what became of a delivered entry.
type Fate string

// The fates.
const (
	Stored     Fate = "stored"
	Waiting    Fate = "waiting"    // for its author, with everything typed and the reason
	Unreadable Fate = "unreadable" // it is not known whose it is; the device must keep it
)

// Deliver takes one sealed entry, once however often it comes. sent is when,
// by the device's clock. An error says that it is to be sent again later.
func (d *Desk) Deliver(ctx context.Context, sealed []byte, sent time.Time, take Take) (Fate, error) {
	k, err := d.deliveryKey(ctx)
	if err != nil {
		return "", err
	}
	e, grant, err := k.Open(sealed)
	if err != nil {
		return Unreadable, nil
	}
	d.mail.taking.Lock()
	defer d.mail.taking.Unlock()
	before, known, err := d.store.Delivered(ctx, e.ID)
	switch {
	case err != nil:
		return "", fmt.Errorf("deliver %s: %w", e.ID, err)
	case known && before.Account != e.Author:
		return Unreadable, nil
	case known && before.Waiting:
		return Waiting, nil
	case known:
		return Stored, nil
	}
	now := d.clock()
	ahead, trusted := e.Ahead(grant, sent, now)
	why := d.grantStands(ctx, grant)
	if why == nil && trusted {
		why = d.takeFor(ctx, e, take)
	}
	if why != nil && (ctx.Err() != nil || fault.Is(why, fault.Busy)) {
		return "", why
	}
	note := account.Delivered{
		ID: e.ID, Account: e.Author, At: now, Waiting: why != nil || !trusted,
		Carried: account.Carried{Device: e.Device, Captured: e.Captured, Sent: sent, Ahead: ahead, Reason: reason(ctx, why)},
	}
	if !note.Waiting {
		return Stored, d.store.NoteDelivered(ctx, note, nil)
	}
	form, err := url.ParseQuery(e.Form)
	if err != nil { // what can be read of it is kept; the rest stands in its note
		form.Set("note", e.Form)
	}
	return Waiting, d.store.NoteDelivered(ctx, note, &account.Draft{ID: e.ID, Account: e.Author, Path: e.Path, Form: form, At: now})
}

// grantStands refuses a grant that counts no longer.
func (d *Desk) grantStands(ctx context.Context, g delivery.Grant) error {
	secret, err := d.store.Secret(ctx, line.ID(g.Account))
	if err != nil && !fault.Is(err, fault.NotFound) {
		return fault.Wrap(err, fault.Busy, "fault.internal") // it is not the entry's fault
	}
	if !g.Counts(secret, d.clock()) {
		return fault.New(fault.Forbidden, "delivery.grant-ended")
	}
	return nil
}

func (d *Desk) takeFor(ctx context.Context, e delivery.Entry, take Take) error {
	who, err := d.Person(ctx, line.ID(e.Author))
	if err != nil {
		return err
	}
	return take(ctx, who, e)
}

// reason is what stood against an entry, in words for its author.
func reason(ctx context.Context, err error) string {
	if err == nil {
		return ""
	}
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind == fault.Internal {
		return words.Say(ctx, "delivery.failed")
	}
	text := words.Say(ctx, f.Key, f.Args...)
	for _, name := range slices.Sorted(maps.Keys(f.Fields)) {
		if more := words.Say(ctx, f.Fields[name].Key, f.Fields[name].Args...); more != text {
			text += " " + more
		}
	}
	return text
}
