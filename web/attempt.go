package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"dwellbook/internal/line"
)

// attemptNumbers are the numbers of the attempt rows in the form, in order.
func attemptNumbers(form url.Values) []string {
	var numbers []string
	for name := range form {
		if n, ok := strings.CutPrefix(name, "attempt."); ok {
			n, _, _ = strings.Cut(n, ".")
			if _, err := strconv.Atoi(n); err == nil && !slices.Contains(numbers, n) {
				numbers = append(numbers, n)
			}
		}
	}
	slices.SortFunc(numbers, func(a, b string) int {
		x, _ := strconv.Atoi(a)
		y, _ := strconv.Atoi(b)
		return x - y
	})
	return numbers
}

// readAttempt reads a row. What it leaves empty of site, side and gauge is as
// of the line; in a correction, what nobody had said stays unsaid.
func readAttempt(r *reader, n string, o *occurrence, of line.Occasion) line.Attempt {
	name := func(field string) string { return "attempt." + n + "." + field }
	a := line.Attempt{Site: of.Site, Side: of.Side, Gauge: of.Gauge}
	if s := parsed0(r, name("site"), line.Wrist); s != 0 {
		a.Site = s
		if !line.HasSide(s) {
			a.Side = 0
		}
	}
	if s := parsed0(r, name("side"), line.Left); s != 0 {
		a.Side = s
	}
	if g := r.gauge(name("gauge"), false); g != 0 {
		a.Gauge = g
	}
	r.unsaid(n, &a)
	a.Operator = r.operator(name("operator"), name("written"), o)
	a.Difficulty = ticked(r, name("difficulty"), line.VeinNotVisible)
	switch word := r.get(name("result")); word {
	case "", "placed":
	default:
		a.Failed = true
		a.Fault = parsed1(r, name("result"), line.NoFlashback)
	}
	return a
}

// operator reads an account, or a name as written in its place.
func (r *reader) operator(account, written string, o *occurrence) line.Operator {
	if w := r.text(written); w != "" {
		return line.Operator{Written: w}
	}
	id := line.ID(r.get(account))
	if _, known := o.house.People[id]; id != "" && !known && string(id) != r.before.Get(account) {
		r.wrong(account, "act.unknown-word", "word", string(id))
	}
	return line.Operator{Account: id}
}

// unsaid leaves out of a corrected attempt what it left out before.
func (r *reader) unsaid(n string, a *line.Attempt) {
	was, _ := r.old().(line.Occasion)
	i, err := strconv.Atoi(n)
	if err != nil || i < 1 || i > len(was.Attempts) {
		return
	}
	old := was.Attempts[i-1]
	if old.Site == 0 && r.get("attempt."+n+".site") == "" {
		a.Site = 0
	}
	if old.Side == 0 && r.get("attempt."+n+".side") == "" && a.Site == old.Site {
		a.Side = 0
	}
	if old.Gauge == 0 && r.get("attempt."+n+".gauge") == "" {
		a.Gauge = 0
	}
}

// fillAttempt is the row of the i-th attempt; only what differs from the line
// is filled in.
func fillAttempt(v url.Values, i int, a line.Attempt, of line.Occasion) {
	name := func(field string) string { return "attempt." + strconv.Itoa(i+1) + "." + field }
	v.Set(name("operator"), string(a.Operator.Account))
	v.Set(name("written"), string(a.Operator.Written))
	fillCodes(v, name("difficulty"), a.Difficulty)
	v.Set(name("result"), "placed")
	if a.Failed {
		v.Set(name("result"), a.Fault.String())
	}
	if a.Site != 0 && a.Site != of.Site {
		v.Set(name("site"), a.Site.String())
	}
	if a.Side != 0 && a.Side != of.Side {
		v.Set(name("side"), a.Side.String())
	}
	if a.Gauge != 0 && a.Gauge != of.Gauge {
		v.Set(name("gauge"), strconv.Itoa(int(a.Gauge)))
	}
}
