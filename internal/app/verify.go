package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/proof"
	"dwellbook/internal/store"
	"dwellbook/internal/words"
)

// Verified is the answer of the command verify.
type Verified struct {
	ctx    context.Context
	record *store.Verified
	last   *headFound // the last head that the record itself keeps
	saved  *headFound // the one that was kept elsewhere
}

type headFound struct {
	proof.Signed
	answer proof.Answer
}

// Verify holds a record against its log and, where a file with a head is
// given, against that. It changes nothing. The error is a *fault.Error where
// the file is no head, or one that was changed.
func Verify(ctx context.Context, db, head string) (answer *Verified, err error) {
	var saved *proof.Signed
	if head != "" {
		text, err := os.ReadFile(head) // #nosec G304 -- named by whoever runs the command
		if err != nil {
			return nil, fmt.Errorf("read head: %w", err)
		}
		s, err := proof.ReadHead(text)
		if err != nil {
			return nil, err
		}
		saved = &s
	}
	st, err := store.OpenReadOnly(ctx, db)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	// Heads first: what is signed while entries are read must not look too long.
	last, public, err := lastHead(ctx, st)
	if err != nil {
		return nil, err
	}
	answer = &Verified{ctx: ctx}
	if answer.record, err = st.Verify(ctx); err != nil {
		return nil, err
	}
	answer.last, answer.saved = answer.against(last, public), answer.against(saved, public)
	return answer, nil
}

// lastHead is the last head that the record keeps, and its public key.
func lastHead(ctx context.Context, st *store.Store) (last *proof.Signed, public string, err error) {
	text, ok, err := st.Setting(ctx, desk.HeadKeySetting)
	if err != nil || !ok {
		return nil, "", err
	}
	key, err := proof.ParseKey(text)
	if err != nil {
		return nil, "", err
	}
	text, ok, err = st.Setting(ctx, desk.LastHeadSetting)
	if err != nil || !ok {
		return nil, key.Public(), err
	}
	s, err := proof.ReadHead([]byte(text))
	return &s, key.Public(), err
}

// against holds a head against the entries as they were read.
func (v *Verified) against(s *proof.Signed, public string) *headFound {
	if s == nil {
		return nil
	}
	root, ok := v.record.Root(s.Size)
	return &headFound{*s, s.Against(public, v.record.Size, ok && root == s.Root)}
}

// Clean reports whether nothing differed.
func (v *Verified) Clean() bool {
	return v.record.Clean() && (v.last == nil || v.last.answer == proof.Fits) && (v.saved == nil || v.saved.answer == proof.Fits)
}

// mostNamed bounds the places that are named one by one.
const mostNamed = 100

// Write says what was found, in sentences.
func (v *Verified) Write(w io.Writer) error {
	var lines []string
	say := func(key string, args ...any) { lines = append(lines, words.Say(v.ctx, key, args...)) }
	for _, text := range v.record.File {
		say("verify.file", "text", text)
	}
	for i, p := range v.record.Entries {
		if i == mostNamed {
			say("verify.more", "n", len(v.record.Entries)-mostNamed)
			break
		}
		say("verify.entry-"+p.What.Name(), "seq", p.Seq, "from", p.From)
	}
	for _, t := range v.record.Texts {
		say("verify.text-"+t.What.Name(), "seq", t.Entry)
	}
	for _, t := range v.record.Tables {
		if t.Missing+t.Surplus > 0 {
			say("verify.table", "table", t.Table, "missing", t.Missing, "surplus", t.Surplus)
		}
	}
	switch {
	case v.record.Clean():
		say("verify.clean", "n", v.record.Size)
	case len(v.record.Tables) == 0:
		say("verify.no-tables")
	}
	v.head(say, "verify.last-head", v.last)
	v.head(say, "verify.saved-head", v.saved)
	if v.saved == nil {
		say("verify.no-head")
	}
	_, err := io.WriteString(w, strings.Join(lines, "\n")+"\n")
	return err
}

func (v *Verified) head(say func(string, ...any), key string, h *headFound) {
	if h == nil {
		return
	}
	say(key, "n", h.Size, "at", line.MinuteOf(h.At))
	say(h.answer.Word(), "n", h.Size, "now", v.record.Size)
}
