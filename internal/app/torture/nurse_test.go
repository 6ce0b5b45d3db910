package torture

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// act is a form, sent until it is answered.
type act struct {
	path    string
	form    url.Values
	entries []line.ID // that it makes, all or none
	note    string    // that its first entry holds; empty: none
}

// nurse records one patient's course after the other.
type nurse struct {
	name    string
	browser *http.Client
	patient int
	waiting []act // of this patient, the first of them perhaps sent already

	mu       sync.Mutex // guards the rest
	sent     []act
	answered int    // how many of those sent were answered with success
	refused  string // an answer that was neither success nor none
}

// next is the act to send.
func (n *nurse) next() act {
	if len(n.waiting) == 0 {
		n.patient++
		n.waiting = course(fmt.Sprintf("%s-%d", n.name, n.patient))
	}
	return n.waiting[0]
}

// course is all that becomes of a patient. One act makes two entries.
func course(patient string) []act {
	on, review := "/lines/"+patient+".line/", patient+".look2"
	make := func(path, id, note string, fields ...string) act {
		form := url.Values{"entry": {id}, "when": {"now"}}
		if note != "" {
			form.Set("note", note)
		}
		for i := 0; i < len(fields); i += 2 {
			form.Set(fields[i], fields[i+1])
		}
		return act{path: path, form: form, entries: []line.ID{line.ID(id)}, note: note}
	}
	admission := make("/wards/"+ward+"/admit", patient+".in", "", "subject", patient, "bed", patient, "group", "adult")
	admission.entries = append(admission.entries, line.ID(patient+".in.facts"))
	void := make("/entries/"+review+"/void", patient+".void", "", "seen", review, "why", "the other patient")
	return []act{
		admission,
		make("/patients/"+patient+"/place", patient+".place", "placed for "+patient, "line", patient+".line", "outcome", "line", "site", "forearm",
			"side", "left", "gauge", "20", "asepsis", "full", "dressing", "film", "attempt.1.result", "placed", "attempt.1.operator", "nurse"),
		make(on+"review", patient+".look1", "", "nothing_wrong", "1"),
		make(on+"review", review, "second look at "+patient, "state", "intact", "sign", "pain"),
		void,
		make(on+"dressing", patient+".dressing", "new dressing of "+patient, "material", "film"),
		make(on+"remove", patient+".out", "out of "+patient, "reason", "not-needed", "complete", "yes"),
		make("/patients/"+patient+"/discharge", patient+".home", ""),
	}
}

// send sends an act once and notes how it was answered.
func (n *nurse) send(base string, a act) (status int, page string, err error) {
	n.mu.Lock()
	if len(n.sent) == n.answered { // otherwise it was sent before
		n.sent = append(n.sent, a)
	}
	n.mu.Unlock()
	status, page, err = post(n.browser, base+a.path, a.form)
	if err != nil {
		return 0, "", err
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	if status == http.StatusSeeOther && !strings.HasPrefix(page, "/sign-in") {
		n.answered++
		n.waiting = n.waiting[1:]
	} else {
		n.refused = fmt.Sprintf("%s: %d %s", a.path, status, page)
	}
	return status, page, nil
}

// work records until the server answers no more.
func (n *nurse) work(base string) {
	for {
		if status, _, err := n.send(base, n.next()); err != nil || status != http.StatusSeeOther {
			return
		}
	}
}

// recorded is what the record holds: of each entry its texts.
func recorded(t testing.TB, file string) map[line.ID][]line.Sealed {
	t.Helper()
	st, err := store.OpenReadOnly(t.Context(), file)
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	all := map[line.ID][]line.Sealed{}
	require.NoError(t, st.Entries(t.Context(), func(e line.SealedEntry) error {
		decoded, err := line.Decode(e.Canonical, func(string) (string, bool) { return "", true })
		require.NotContains(t, all, decoded.ID, "stored twice")
		all[decoded.ID] = e.Texts
		return err
	}))
	return all
}

// requireWhole fails unless the record, as it lies on the disk, is sound and
// holds every act that was answered for, once and as it was sent, none half,
// and nothing that was not sent. It gives how many were answered for.
func requireWhole(t testing.TB, file string, nurses []*nurse) (answered int) {
	t.Helper()
	found, err := app.Verify(t.Context(), file, "")
	require.NoError(t, err)
	var said strings.Builder
	require.NoError(t, found.Write(&said))
	require.True(t, found.Clean(), "integrity, log, derived tables: %s", said.String())
	held := recorded(t, file)
	for _, n := range nurses {
		n.mu.Lock()
		defer n.mu.Unlock()
		require.Empty(t, n.refused)
		for i, a := range n.sent {
			there := 0
			for _, id := range a.entries {
				if _, is := held[id]; is {
					there++
				}
			}
			if i < n.answered {
				require.Equal(t, len(a.entries), there, "%s was answered for and is lost", a.entries[0])
				answered++
			} else {
				require.Contains(t, []int{0, len(a.entries)}, there, "%s is half there", a.entries[0])
			}
			if a.note != "" && there > 0 {
				texts := held[a.entries[0]]
				require.Len(t, texts, 1, a.entries[0])
				require.Equal(t, a.note, texts[0].Text)
			}
			for _, id := range a.entries {
				delete(held, id)
			}
		}
	}
	for id := range held {
		require.NotRegexp(t, `^n[0-9]+-`, id, "nobody sent it")
	}
	return answered
}
