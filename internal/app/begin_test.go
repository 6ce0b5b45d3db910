package app_test

import (
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// emptyHospital is the product with an administrator, and nothing else yet.
func emptyHospital(t *testing.T) *scene {
	t.Helper()
	s := &scene{now: time.Date(2026, 3, 4, 15, 10, 0, 0, time.UTC), file: filepath.Join(t.TempDir(), "record.db")}
	a, err := app.New(t.Context(), app.Config{DB: s.file, Clock: s.tell})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Close()) })
	s.app = a
	token, err := a.Desk.SetUpToken(t.Context())
	require.NoError(t, err)
	_, err = a.Desk.SetUp(t.Context(), token, line.Hospital{Name: "Larkwell (invented)", Zone: "Europe/London"}, desk.NewAccount{
		ID: "person-administrator", SignIn: string(account.Administrator), Name: "Somebody", Passphrase: passphrase,
	})
	require.NoError(t, err)
	s.server = httptest.NewServer(a.Handler)
	t.Cleanup(s.server.Close)
	return s
}

// send posts a form and gives the page that answers it.
func send(t *testing.T, c *http.Client, address string, form url.Values) (status int, page string) {
	t.Helper()
	answer, err := c.PostForm(address, form)
	return answered(t, answer, err)
}

func leadsTo(t *testing.T, c *http.Client, address string) string {
	t.Helper()
	answer, err := c.Get(address)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return answer.Header.Get("Location")
}

const (
	wardList  = "Alder; 1-3, S1; 07:30, 19:30\n\nBirch\t1-2"
	staffList = "Nell Ashdown; nurse; Nell; NA\nTed Moor; doctor; ted; TM"
	greets    = `id="greeting-title"`
)

var slipAddress = regexp.MustCompile(`<p class="link">([^<]+)</p>`)

func TestBegin_LeadsFromAnEmptyHospitalToANurseOnAWard(t *testing.T) {
	t.Parallel()
	s := emptyHospital(t)
	admin := s.client(t, account.Administrator)
	require.Equal(t, "/begin", leadsTo(t, admin, s.server.URL+"/"))
	require.Equal(t, "/begin/wards", leadsTo(t, admin, s.server.URL+"/begin"))

	status, page := send(t, admin, s.server.URL+"/begin/wards", url.Values{"list": {wardList}})
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, page, "Make these 2 wards")
	h, err := s.app.Desk.House(t.Context())
	require.NoError(t, err)
	require.Empty(t, h.Wards, "looking at a list makes nothing")
	status, to := post(t, admin, s.server.URL+"/begin/wards", url.Values{"list": {wardList}, "checked": {strings.ReplaceAll(wardList, "\n", "\r\n")}, "make": {"yes"}})
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/begin/staff", to)
	h, err = s.app.Desk.House(t.Context())
	require.NoError(t, err)
	require.Len(t, h.Wards, 2)
	require.Equal(t, []string{"1", "2", "3", "S1"}, h.Wards[0].Beds)
	require.Equal(t, []line.ShiftTime{450, 1170}, h.Wards[0].Shifts)
	require.Equal(t, "Europe/London", h.Wards[1].Zone)
	require.True(t, h.Empty(), "nobody could record care yet")

	status, page = send(t, admin, s.server.URL+"/begin/staff", url.Values{"list": {staffList}, "checked": {staffList}, "make": {"yes"}})
	require.Equal(t, http.StatusOK, status)
	links := slipAddress.FindAllStringSubmatch(page, -1)
	require.Len(t, links, 2)
	require.Equal(t, "/people", leadsTo(t, admin, s.server.URL+"/"), "it is shown as long as the hospital is empty")

	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	nurse := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	link := links[0][1]
	require.Contains(t, body(t, nurse, link), "Welcome, Nell Ashdown")
	status, page = send(t, nurse, link, url.Values{"passphrase": {passphrase}, "again": {"another thing"}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "The two are not the same")
	status, to = post(t, nurse, link, url.Values{"passphrase": {passphrase}, "again": {passphrase}})
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, "/", to)
	require.Contains(t, body(t, nurse, s.server.URL+"/wards"), "Birch")
	status, _ = post(t, nurse, link, url.Values{"passphrase": {"somebody else's choice"}, "again": {"somebody else's choice"}})
	require.Equal(t, http.StatusNotFound, status, "a link works once")
	_, err = s.app.Desk.SignIn(t.Context(), desk.Place{}, "nell", passphrase)
	require.NoError(t, err)
}

func TestBegin_SaysAtTheLineWhatIsWrong(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	admin := s.client(t, account.Administrator)
	for _, c := range []struct{ step, list, want string }{
		{"wards", "Birch\nalder; 1", "There is a ward called alder already."},
		{"wards", "Birch\nBirch", "There is a ward called Birch already."},
		{"wards", "Birch\nOak; 1, 2, 1", "Bed 1 stands twice in the list."},
		{"wards", "Birch\n; 1", "Give the ward’s name."},
		{"wards", "Birch\nOak; 1; 19:30, 07:30", "Give the times at which shifts start"},
		{"staff", "Nell Ashdown; nurse; nell\nTed Moor; porter; ted", "“porter” is no role here."},
		{"staff", "Nell Ashdown; nurse; nell\nTed Moor; doctor; NELL", "nell is somebody"},
		{"staff", "Nell Ashdown; nurse; nell\nTed Moor; doctor; nurse", "nurse is somebody"},
		{"staff", "Nell Ashdown; nurse; nell\nTed Moor; doctor; ", "A sign-in name is 2 to 32"},
	} {
		people := len(mustHouse(t, s).People)
		status, page := send(t, admin, s.server.URL+"/begin/"+c.step, url.Values{"list": {c.list}, "checked": {c.list}, "make": {"yes"}})
		require.Equal(t, http.StatusUnprocessableEntity, status, c.list)
		page = strings.ReplaceAll(strings.ReplaceAll(page, "&#39;", "’"), "'", "’")
		_, row, _ := strings.Cut(page, `<tr class="due">`)
		row, _, _ = strings.Cut(row, "</tr>")
		require.Contains(t, row, "<span>2</span>", c.list)
		require.Contains(t, row, c.want, c.list)
		require.Contains(t, page, "Nothing is made yet", c.list)
		require.Len(t, mustHouse(t, s).Wards, 1)
		require.Len(t, mustHouse(t, s).People, people)
	}
	changed := url.Values{"list": {"Birch"}, "checked": {"Oak"}, "make": {"yes"}}
	status, page := send(t, admin, s.server.URL+"/begin/wards", changed)
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, page, "Make this ward", "what was changed after it was checked is shown once more")
	require.Len(t, mustHouse(t, s).Wards, 1)
}

func mustHouse(t *testing.T, s *scene) *desk.House {
	t.Helper()
	h, err := s.app.Desk.House(t.Context())
	require.NoError(t, err)
	return h
}

func TestInvitation_EndsWithItsTimeOrAFreshOne(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	admin, err := s.app.Desk.Person(t.Context(), "person-administrator")
	require.NoError(t, err)
	first, err := s.app.Desk.Invite(t.Context(), admin, "person-nurse")
	require.NoError(t, err)
	_, err = s.app.Desk.SignIn(t.Context(), desk.Place{}, "nurse", passphrase)
	require.NoError(t, err, "the passphrase counts until the link is used")
	second, err := s.app.Desk.Invite(t.Context(), admin, "person-nurse")
	require.NoError(t, err)
	opens := func(i account.Invitation, id string) bool {
		answer, err := s.client(t, "").Get(s.server.URL + "/welcome/" + id + "/" + i.Token)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		return answer.StatusCode == http.StatusOK
	}
	require.False(t, opens(first, "person-nurse"))
	require.False(t, opens(second, "person-doctor"))
	require.True(t, opens(second, "person-nurse"))
	s.now = s.now.AddDate(0, 0, 14)
	require.False(t, opens(second, "person-nurse"))
}

func TestGreeting_ShowsAtTheFirstSignInOfEachRoleAndNeverAgain(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	for role, screen := range map[account.Role]string{
		account.Nurse: "/wards/alder", account.Doctor: "/wards", account.Lead: "/audit", account.Administrator: "/people",
	} {
		c := s.client(t, role)
		require.Contains(t, body(t, c, s.server.URL+screen), greets, role)
		require.Contains(t, body(t, c, s.server.URL+screen), greets, "%s has not put it away", role)
		require.NotContains(t, body(t, c, s.server.URL+"/policy"), greets, "%s: only where work starts", role)
		_, to := post(t, c, s.server.URL+"/greeting", url.Values{"to": {screen}})
		require.Equal(t, screen, to)
		require.NotContains(t, body(t, c, s.server.URL+screen), greets, role)
		require.NotContains(t, body(t, s.client(t, role), s.server.URL+screen), greets, "%s signs in again", role)
	}
	require.NoError(t, s.app.Desk.ChangeAccount(t.Context(), desk.System(), account.Account{
		ID: "person-nurse", SignIn: "nurse", Name: "Somebody nurse", Role: account.Lead,
	}))
	require.Contains(t, body(t, s.client(t, account.Nurse), s.server.URL+"/audit"), "Audit shows what is due", "a new role is a first time")
}
