package app_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/account"
	"dwellbook/internal/delivery"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// tablet is a device that keeps what is typed on it. ahead is how far its
// clock stands ahead of the server's.
type tablet struct {
	t       testing.TB
	s       *scene
	ahead   time.Duration
	author  string
	key     []byte
	grant   string
	granted time.Time
	n       int
}

const tabletID = "tablet-1"

func (s *scene) tablet(t *testing.T, role account.Role) *tablet {
	t.Helper()
	d := &tablet{t: t, s: s}
	d.signIn(s.client(t, role), role)
	return d
}

// now is what the tablet's clock shows.
func (d *tablet) now() time.Time { return d.s.now.Add(d.ahead) }

func (d *tablet) signIn(c *http.Client, role account.Role) {
	d.t.Helper()
	answer, err := c.Get(d.s.server.URL + "/device-terms?device=" + tabletID)
	require.NoError(d.t, err)
	require.Equal(d.t, http.StatusOK, answer.StatusCode)
	var terms struct {
		Key   []byte
		Grant string
	}
	require.NoError(d.t, json.NewDecoder(answer.Body).Decode(&terms))
	require.NoError(d.t, answer.Body.Close())
	d.author, d.key, d.grant, d.granted = "person-"+string(role), terms.Key, terms.Grant, d.now()
}

// keep seals a form as typed now.
func (d *tablet) keep(path string, form url.Values) []byte {
	d.t.Helper()
	d.n++
	sealed, err := delivery.Seal(d.key, delivery.Entry{
		ID: fmt.Sprintf("%s-%d", d.author, d.n), Author: d.author, Device: tabletID, Grant: d.grant, Granted: d.granted,
		Captured: d.now(), Path: path, Form: form.Encode(),
	})
	require.NoError(d.t, err)
	return sealed
}

// hand hands sealed entries over, with nobody signed in.
func (d *tablet) hand(sealed ...[]byte) []string {
	d.t.Helper()
	body, err := json.Marshal(map[string]any{"sent": d.now(), "entries": sealed})
	require.NoError(d.t, err)
	answer, err := http.Post(d.s.server.URL+"/deliver", "application/json", bytes.NewReader(body))
	require.NoError(d.t, err)
	require.Equal(d.t, http.StatusOK, answer.StatusCode)
	var out struct{ Fates []string }
	require.NoError(d.t, json.NewDecoder(answer.Body).Decode(&out))
	require.NoError(d.t, answer.Body.Close())
	return out.Fates
}

func lookForm(id string) url.Values {
	return url.Values{"entry": {id}, "when": {"now"}, "nothing_wrong": {"1"}}
}

func (s *scene) page(t testing.TB, id line.ID) *desk.LinePage {
	t.Helper()
	nurse, err := s.app.Desk.Person(t.Context(), "person-nurse")
	require.NoError(t, err)
	page, err := s.app.Desk.Line(t.Context(), nurse, id)
	require.NoError(t, err)
	return page
}

func (s *scene) tray(t *testing.T, id line.ID) []desk.TrayItem {
	t.Helper()
	tray, err := s.app.Desk.Tray(t.Context(), s.person(t, id))
	require.NoError(t, err)
	return tray
}

func TestDeliver_StoresEachOnceInItsAuthorsNameAtTheTimeItHappened(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	d := s.tablet(t, account.Nurse)
	typed := s.now
	first := d.keep("/lines/line-1/review", lookForm("look-1"))
	s.now = s.now.Add(7 * time.Minute)
	second := d.keep("/lines/line-1/review", url.Values{"entry": {"look-2"}, "when": {"ago"}, "when-ago": {"5"}, "sign": {"pain"}, "state": {"intact"}})
	s.now = s.now.Add(20 * time.Hour) // long after the session

	for range 3 {
		require.Equal(t, []string{"stored", "stored"}, d.hand(first, second))
		s.now = s.now.Add(time.Minute)
	}
	page := s.page(t, "line-1")
	require.Len(t, page.History.Reviews, 2)
	require.Equal(t, line.MinuteOf(typed), page.History.Reviews[0].At)
	require.Equal(t, line.MinuteOf(typed)+2, page.History.Reviews[1].At)
	require.Equal(t, line.ID("person-nurse"), page.Events[0].Entry.Author)
	require.Empty(t, s.tray(t, "person-nurse"))
}

// What arrived by itself, its answer lost, is the same when the device sends it again.
func TestDeliver_KnowsWhatArrivedByItself(t *testing.T) {
	t.Parallel()
	for name, form := range map[string]url.Values{
		"now": lookForm("look-1"),
		"ago": {"entry": {"look-1"}, "when": {"ago"}, "when-ago": {"5"}, "nothing_wrong": {"1"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			d := s.tablet(t, account.Nurse)
			nurse := s.client(t, account.Nurse)
			s.now = s.now.Add(time.Minute)
			status, _ := post(t, nurse, s.server.URL+"/lines/line-1/review", form)
			require.Equal(t, http.StatusSeeOther, status)
			s.now = s.now.Add(time.Minute)
			kept := d.keep("/lines/line-1/review", form)
			s.now = s.now.Add(time.Hour)
			require.Equal(t, []string{"stored"}, d.hand(kept))
			require.Len(t, s.page(t, "line-1").History.Reviews, 1)
			form.Del("nothing_wrong")
			form.Set("sign", "pain")
			require.Equal(t, []string{"waiting"}, d.hand(d.keep("/lines/line-1/review", form)), "other words under the same id")
		})
	}
}

func TestDeliver_RefusedWaitsForItsAuthorWithAllThatWasTypedAndWhy(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	d := s.tablet(t, account.Nurse)
	kept := d.keep("/lines/line-1/review", url.Values{"entry": {"look-1"}, "when": {"now"}, "sign": {"pain"}, "note": {"cold to the touch"}})
	after := d.keep("/lines/line-1/not-seen", url.Values{"entry": {"away"}, "when": {"now"}, "why": {"off-ward"}})
	doctor := s.client(t, account.Doctor)
	status, _ := post(t, doctor, s.server.URL+"/lines/line-1/remove", url.Values{"entry": {"out"}, "when": {"ago"}, "when-ago": {"20"}, "reason": {"leak"}})
	require.Equal(t, http.StatusSeeOther, status)
	typed := s.now
	s.now = s.now.Add(30 * time.Minute)

	require.Equal(t, "waiting", d.hand(kept, after)[0])
	require.Equal(t, "waiting", d.hand(kept)[0], "once is enough")
	tray := s.tray(t, "person-nurse")
	require.Equal(t, "cold to the touch", tray[0].Form.Get("note"))
	require.NotEmpty(t, tray[0].Carried.Reason)
	require.Equal(t, typed, tray[0].Carried.Captured)
	require.Empty(t, s.tray(t, "person-doctor"))
	require.NotContains(t, body(t, doctor, s.server.URL+"/tray"), "draft=")

	nurse := s.client(t, account.Nurse)
	page := body(t, nurse, s.server.URL+"/tray")
	require.Contains(t, page, tray[0].Carried.Reason)
	require.Contains(t, page, "Bed 2, KD-204, elbow crease, left")
	form := body(t, nurse, s.server.URL+tray[0].Path+"?draft="+tray[0].ID)
	require.Contains(t, form, "cold to the touch")
	require.Contains(t, form, tray[0].Carried.Reason)
	require.Contains(t, form, `value="`+typed.Format("15:04")+`"`, "now is the moment when it was typed")

	// What its author has dealt with does not come back.
	status, _ = post(t, nurse, s.server.URL+"/tray/"+tray[0].ID+"/drop", nil)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "waiting", d.hand(kept)[0])
	require.NotContains(t, body(t, nurse, s.server.URL+"/tray"), "cold to the touch")
}

func TestDeliver_WhatNeedsARefusedOneWaitsWithIt(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	d := s.tablet(t, account.Nurse)
	place := url.Values{
		"entry": {"place-2"}, "line": {"line-2"}, "outcome": {"line"}, "site": {"wrist"}, "side": {"left"}, "gauge": {"20"}, "asepsis": {"full"},
		"when": {"now"}, "attempt.1.operator": {"person-nurse"}, "attempt.1.result": {"placed"},
	}
	// Meanwhile somebody records a fistula in that arm, which a placement must answer.
	status, _ := post(t, s.client(t, account.Doctor), s.server.URL+"/patients/patient-1/facts",
		url.Values{"entry": {"facts"}, "when": {"ago"}, "when-ago": {"60"}, "limb-0": {"left-arm"}, "limb-why-0": {"fistula"}})
	require.Equal(t, http.StatusSeeOther, status)
	kept := [][]byte{d.keep("/patients/patient-1/place", place), d.keep("/lines/line-1/review", lookForm("look-1"))}
	s.now = s.now.Add(2 * time.Minute)
	kept = append(kept, d.keep("/lines/line-2/review", lookForm("look-2")))
	require.Equal(t, []string{"waiting", "stored", "waiting"}, d.hand(kept...))
	tray := s.tray(t, "person-nurse")
	require.Len(t, tray, 2)
	require.Nil(t, tray[0].After)
	require.Contains(t, tray[0].Carried.Reason, "fistula")
	require.Equal(t, tray[0].ID, tray[1].After.ID)

	// Its author answers the first, then the second.
	nurse := s.client(t, account.Nurse)
	place.Set("draft", tray[0].ID)
	place.Set("clinician", "Dr Solano")
	place.Set("clinician_why", "no other vein")
	status, _ = post(t, nurse, s.server.URL+"/patients/patient-1/place", place)
	require.Equal(t, http.StatusSeeOther, status)
	again := lookForm("look-2")
	again.Set("draft", tray[1].ID)
	status, _ = post(t, nurse, s.server.URL+"/lines/line-2/review", again)
	require.Equal(t, http.StatusSeeOther, status)
	require.Empty(t, s.tray(t, "person-nurse"))
	require.Len(t, s.page(t, "line-2").History.Reviews, 1)
}

func TestHazard04_ADeviceWhoseClockIsOffShiftsNothing(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	d := s.tablet(t, account.Nurse)
	d.ahead = time.Hour
	kept := d.keep("/lines/line-1/review", url.Values{"entry": {"look-1"}, "when": {"ago"}, "when-ago": {"10"}, "sign": {"pain"}, "state": {"intact"}})
	typed := s.now
	s.now = s.now.Add(30 * time.Minute)
	require.Equal(t, []string{"waiting"}, d.hand(kept))
	require.Empty(t, s.page(t, "line-1").History.Reviews)
	one := s.tray(t, "person-nurse")[0]
	require.Empty(t, one.Carried.Reason)
	require.Equal(t, time.Hour, one.Carried.Ahead)

	nurse := s.client(t, account.Nurse)
	page := body(t, nurse, s.server.URL+"/tray")
	require.Contains(t, page, "1 h ahead")
	require.Contains(t, page, typed.Add(time.Hour).Format("15:04"))
	require.Contains(t, page, typed.Format("15:04"))
	address := s.server.URL + one.Path + "?draft=" + one.ID
	require.Contains(t, body(t, nurse, address), `value="`+typed.Add(50*time.Minute).Format("15:04")+`"`)
	require.Contains(t, body(t, nurse, address+"&clock=server"), `value="`+typed.Add(-10*time.Minute).Format("15:04")+`"`)
}

// A look in two taps has no time to choose, so it opens as the review that has.
func TestDeliver_ALookThatWaitsOpensWithItsTime(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	d := s.tablet(t, account.Nurse)
	require.Equal(t, []string{"stored"}, d.hand(d.keep("/lines/line-1/look", lookForm("look-1"))))
	require.Len(t, s.page(t, "line-1").History.Reviews, 1)
	d.ahead = -time.Hour
	kept := [][]byte{
		d.keep("/lines/line-1/look", lookForm("look-2")),
		d.keep("/lines/line-1/look", url.Values{"entry": {"look-3"}, "why": {"off-ward"}}),
	}
	require.Equal(t, []string{"waiting", "waiting"}, d.hand(kept...))
	nurse := s.client(t, account.Nurse)
	page := body(t, nurse, s.server.URL+"/tray")
	tray := s.tray(t, "person-nurse")
	review, away := "/lines/line-1/review?draft="+tray[0].ID, "/lines/line-1/not-seen?draft="+tray[1].ID
	require.Contains(t, page, review)
	require.Contains(t, page, away)
	require.Contains(t, body(t, nurse, s.server.URL+review), `value="`+d.now().Format("15:04")+`"`)
}

func TestDeliver_AGrantEndsWithItsPassphraseAndItsAccount(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	d := s.tablet(t, account.Nurse)
	kept := d.keep("/lines/line-1/review", lookForm("look-1"))
	require.NoError(t, s.app.Desk.SetPassphrase(t.Context(), desk.System(), "person-nurse", "another quiet stone"))
	require.Equal(t, []string{"waiting"}, d.hand(kept))
	require.NotEmpty(t, s.tray(t, "person-nurse")[0].Carried.Reason)

	doctor := s.tablet(t, account.Doctor)
	kept = doctor.keep("/lines/line-1/review", lookForm("look-2"))
	closed := s.person(t, "person-doctor").Account
	closed.Closed = true
	require.NoError(t, s.app.Desk.ChangeAccount(t.Context(), desk.System(), closed))
	require.Equal(t, []string{"waiting"}, doctor.hand(kept))

	late := s.tablet(t, account.Lead)
	kept = late.keep("/lines/line-1/review", lookForm("look-3"))
	s.now = s.now.Add(8 * 24 * time.Hour)
	require.Equal(t, []string{"waiting"}, late.hand(kept))
	require.Empty(t, s.page(t, "line-1").History.Reviews)
}

func TestHazard14_OnePersonsEntriesDoNotGoUnderAnothersName(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	d := s.tablet(t, account.Nurse)
	kept := [][]byte{d.keep("/lines/line-1/review", lookForm("look-1"))}
	s.now = s.now.Add(time.Minute)
	d.signIn(s.client(t, account.Doctor), account.Doctor)
	kept = append(kept, d.keep("/lines/line-1/review", lookForm("look-2")))
	d.author = "person-nurse" // with the doctor's grant
	kept = append(kept, d.keep("/lines/line-1/review", lookForm("look-3")))
	require.Equal(t, []string{"stored", "stored", "unreadable"}, d.hand(kept...))
	var authors []line.ID
	for _, e := range s.page(t, "line-1").Events {
		if e.Entry.Kind == line.KindReview {
			authors = append(authors, e.Entry.Author)
		}
	}
	require.ElementsMatch(t, []line.ID{"person-nurse", "person-doctor"}, authors)
}

// A role that may not record care gets no grant, and what is no form of the
// bedside is not taken, nor what a browser could not have sent.
func TestDeliver_TakesOnlyForms(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	answer, err := s.client(t, account.Administrator).Get(s.server.URL + "/device-terms?device=" + tabletID)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
	d := s.tablet(t, account.Nurse)
	for _, path := range []string{"/people", "/sign-out", "/passphrase", "/nowhere", "lines/line-1/review", "", "/lines/line-1/infection"} {
		require.Equal(t, []string{"waiting"}, d.hand(d.keep(path, lookForm("look-1"))), path)
	}
	half := lookForm("look-1")
	half.Set("check", "1")
	require.Equal(t, []string{"waiting"}, d.hand(d.keep("/lines/line-1/review", half)))
	require.Equal(t, []string{"unreadable"}, d.hand([]byte("no seal at all")))
	require.Empty(t, s.page(t, "line-1").History.Reviews)
	for _, wrong := range []string{``, `{}`, `{"sent":"yesterday"}`, `[]`} {
		answer, err := http.Post(s.server.URL+"/deliver", "application/json", bytes.NewReader([]byte(wrong)))
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode, "%q", wrong)
	}
}

// However the network cuts the handing over into pieces and repeats them, the
// record holds each once, and also after the server was started again.
func TestHazard09_HowEverOftenADeliveryIsCutItIsOnce(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	d := s.tablet(t, account.Nurse)
	var kept [][]byte
	for i := range 12 {
		kept = append(kept, d.keep("/lines/line-1/review", lookForm(fmt.Sprintf("look-%d", i))))
		s.now = s.now.Add(time.Minute)
	}
	rapid.Check(t, func(rt *rapid.T) {
		from := rapid.IntRange(0, len(kept)-1).Draw(rt, "from")
		until := rapid.IntRange(from+1, len(kept)).Draw(rt, "until")
		fates := d.hand(kept[from:until]...)
		require.Equal(rt, slices.Repeat([]string{"stored"}, until-from), fates)
	})
	d.hand(kept...)
	require.Len(t, s.page(t, "line-1").History.Reviews, len(kept))

	s.restart(t)
	last := d.keep("/lines/line-1/review", lookForm("look-last"))
	require.Equal(t, slices.Repeat([]string{"stored"}, len(kept)+1), d.hand(append(kept, last)...))
	require.Len(t, s.page(t, "line-1").History.Reviews, len(kept)+1)
}
