package store

import (
	"bytes"
	"encoding/json"
	"fmt"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// before answers an entry whose id is in the record already: again, with its
// first place, where author and content are the same; else a conflict.
func (r *recording) before(in *incoming) (receipt line.Receipt, again bool, err error) {
	stored, ok, err := one(background, r.w, entryByID, scanStored, string(in.entry.ID))
	if err != nil || !ok {
		return line.Receipt{}, false, err
	}
	same, err := r.same(stored, in)
	if err != nil {
		return line.Receipt{}, false, err
	}
	if !same {
		return line.Receipt{}, false, fault.New(fault.Conflict, "store.same-id", "id", string(in.entry.ID))
	}
	return line.Receipt{ID: in.entry.ID, Seq: stored.seq, Recorded: stored.recorded, Again: true}, true, nil
}

// same compares contents, leaving out when they were recorded. Texts are
// compared as they read, since each copy may have a salt of its own; one that
// was erased here is the same as any.
func (r *recording) same(stored stored, in *incoming) (bool, error) {
	texts, err := textsOf(background, r.w, stored.seq)
	if err != nil {
		return false, err
	}
	open := map[string]string{}
	for _, t := range texts {
		open[t.Hash] = t.Text
	}
	was, err := readTree(stored.canonical)
	if err != nil {
		return false, err
	}
	given := map[string]string{}
	for _, t := range in.texts {
		given[t.Hash] = t.Text
	}
	is, err := readTree(in.canonical)
	if err != nil {
		return false, err
	}
	delete(was, "recorded")
	delete(is, "recorded")
	return sameTree(was, is, open, given), nil
}

// sameTree compares two entries as JSON; open and given hold their texts by hash.
func sameTree(was, is any, open, given map[string]string) bool {
	switch a := was.(type) {
	case map[string]any:
		b, ok := is.(map[string]any)
		if !ok {
			return false
		}
		if hash, sealed := a["sealed"].(string); sealed && len(a) == 1 {
			return sameText(hash, b, open, given)
		}
		if len(a) != len(b) {
			return false
		}
		for k, v := range a {
			other, ok := b[k]
			if !ok || !sameTree(v, other, open, given) {
				return false
			}
		}
		return true
	case []any:
		b, ok := is.([]any)
		if !ok || len(a) != len(b) {
			return false
		}
		for i := range a {
			if !sameTree(a[i], b[i], open, given) {
				return false
			}
		}
		return true
	}
	return was == is
}

// sameText compares a text kept here under a hash with a node that came in.
func sameText(hash string, node map[string]any, open, given map[string]string) bool {
	if len(node) != 1 {
		return false
	}
	kept, here := open[hash]
	if plain, ok := node["text"].(string); ok {
		return !here || kept == plain
	}
	other, ok := node["sealed"].(string)
	if !ok {
		return false
	}
	plain, there := given[other]
	return other == hash || !here && there || here && there && kept == plain
}

// readTree reads a JSON object, numbers to the letter.
func readTree(raw []byte) (map[string]any, error) {
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	var tree map[string]any
	if err := dec.Decode(&tree); err != nil {
		return nil, fmt.Errorf("read an entry's bytes: %w", err)
	}
	return tree, nil
}
