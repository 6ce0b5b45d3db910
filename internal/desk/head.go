package desk

import (
	"context"
	"crypto/rand"
	"fmt"
	"time"

	"github.com/google/uuid"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/proof"
)

// Under these names the record keeps the key that signs its heads, and the
// last head that was signed.
const (
	HeadKeySetting  = "head-key"
	LastHeadSetting = "head-last"
)

// Head is the record's head now, signed.
func (d *Desk) Head(ctx context.Context, who Person) (proof.Signed, error) {
	if err := who.require(account.SeeProof); err != nil {
		return proof.Signed{}, err
	}
	return d.keepHead(ctx)
}

// keepHead signs the head and keeps it as the last.
func (d *Desk) keepHead(ctx context.Context) (proof.Signed, error) {
	s, err := d.signHead(ctx)
	if err != nil {
		return s, err
	}
	return s, d.store.SetSetting(ctx, LastHeadSetting, s.Text)
}

func (d *Desk) signHead(ctx context.Context) (proof.Signed, error) {
	key, err := d.headKey(ctx)
	if err != nil {
		return proof.Signed{}, err
	}
	size, root, err := d.store.Root(ctx)
	if err != nil {
		return proof.Signed{}, err
	}
	return key.Sign(size, root, d.clock())
}

// headKey is the key of the record; it is made once.
func (d *Desk) headKey(ctx context.Context) (proof.Key, error) {
	kept, ok, err := d.store.Setting(ctx, HeadKeySetting)
	if err != nil {
		return proof.Key{}, err
	}
	if !ok {
		key, err := proof.NewKey(rand.Reader, "dwellbook/"+uuid.NewString())
		if err != nil {
			return key, fmt.Errorf("make a key for heads: %w", err)
		}
		if kept, err = d.store.SettingOr(ctx, HeadKeySetting, key.String()); err != nil {
			return key, err
		}
	}
	return proof.ParseKey(kept)
}

// SignedEachMinute signs the head for as long as ctx lasts, now and each
// minute in which the record grew, and hands it on.
func (d *Desk) SignedEachMinute(ctx context.Context, each func(proof.Signed, error)) {
	ticker := time.NewTicker(time.Minute)
	defer ticker.Stop()
	last := int64(-1)
	for {
		if size, _, err := d.store.Root(ctx); err != nil || size != last {
			s, err := d.keepHead(ctx)
			if ctx.Err() != nil {
				return
			}
			if err == nil {
				last = s.Size
			}
			each(s, err)
		}
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
	}
}

// HeadCheck is a kept head held against the record.
type HeadCheck struct {
	Kept   proof.Signed
	Now    proof.Signed
	Answer proof.Answer
}

// CheckHead holds a kept head against the hashes that are kept now. Entries
// themselves are read by the command verify. Invalid: proof.no-head,
// proof.bad-signature.
func (d *Desk) CheckHead(ctx context.Context, who Person, text []byte) (*HeadCheck, error) {
	if err := who.require(account.SeeProof); err != nil {
		return nil, err
	}
	kept, err := proof.ReadHead(text)
	if err != nil {
		return nil, err
	}
	now, err := d.keepHead(ctx)
	if err != nil {
		return nil, err
	}
	begins, err := d.store.Begins(ctx, kept.Size, kept.Root)
	if err != nil {
		return nil, err
	}
	return &HeadCheck{Kept: kept, Now: now, Answer: kept.Against(now.Key, now.Size, begins)}, nil
}

// printedHead is the head for a report; nil where the record is open for
// reading only and was never signed.
func (d *Desk) printedHead(ctx context.Context) (*proof.Signed, error) {
	s, err := d.signHead(ctx)
	if fault.Is(err, fault.Conflict) {
		return nil, nil
	}
	return &s, err
}
