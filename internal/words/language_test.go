package words_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/words"
)

// Headers as in RFC 9110, 12.5.4.
func TestChoose_TakesTheFirstWishThatCanBeMet(t *testing.T) {
	t.Parallel()
	all := words.Embedded()
	for _, c := range []struct {
		want   string
		wishes []string
	}{
		{"en-GB", nil},
		{"en-GB", []string{"", "", ""}},
		{"de", []string{"de", "en-GB", "en"}},
		{"de", []string{"", "de", "en"}},
		{"de", []string{"", "", "de-AT,de;q=0.9,en;q=0.8"}},
		{"de", []string{"", "", "fr-FR, fr;q=0.9, de;q=0.5, en;q=0.2"}},
		{"en-GB", []string{"", "", "en-US,en;q=0.9,de;q=0.5"}},
		{"en-GB", []string{"", "", "zu, *;q=0.1"}},
		{"de", []string{"gone-away-language", "de"}},
	} {
		require.Equal(t, c.want, all.Choose(c.wishes...).Tag(), "%q", c.wishes)
	}
	require.True(t, all.Speaks("de"))
	require.False(t, all.Speaks("fr"))
	rapid.Check(t, func(rt *rapid.T) { // whatever a browser sends
		require.True(rt, all.Speaks(all.Choose(rapid.String().Draw(rt, "header")).Tag()))
	})
}

func TestRead_AddsALanguageAndChangesSentences(t *testing.T) {
	t.Parallel()
	all, err := words.Read(fstest.MapFS{
		"fr/ours.toml": {Data: []byte("['language.name']\nother = 'Français'\n['entry.attempts']\none = '{{.n}} tentative'\nother = '{{.n}} tentatives'\n")},
		"de/ours.toml": {Data: []byte("['nav.wards']\nother = 'Bereiche'\n")},
		"README.md":    {Data: []byte("ours")},
	})
	require.NoError(t, err)
	require.Len(t, all, 3)
	french := words.With(t.Context(), words.Speaker{Language: all.Choose("fr-CA")})
	require.Equal(t, "Français", words.To(french).Language.Name())
	require.Equal(t, "0 tentative", words.Say(french, "entry.attempts", "n", 0)) // CLDR: French counts none as one
	require.Equal(t, "2 tentatives", words.Say(french, "entry.attempts", "n", 2))
	require.Equal(t, "Wards", words.Say(french, "nav.wards"), "what is missing is said in English")
	require.Equal(t, "1,5", words.Decimal(french, 1.5, 1))
	german := words.With(t.Context(), words.Speaker{Language: all.Choose("de")})
	require.Equal(t, "Bereiche", words.Say(german, "nav.wards"))
	require.Equal(t, "Richtlinie", words.Say(german, "nav.policy"))
	require.Equal(t, "1 Versuch", words.Say(german, "entry.attempts", "n", 1))
	require.Equal(t, "Stationen", words.Say(in(t, "de"), "nav.wards"), "the program's own stays as it is")
}

func TestRead_NamesFileAndLineOfWhatIsWrong(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ text, want string }{
		{"['nav.wards']\nother = 'a'\n['nav.wards", "fr/ours.toml:3: "},
		{"\n['nav.ward']\nother = 'a'\n", `fr/ours.toml:2: the program has no sentence "nav.ward"`},
		{"['nav.wards']\none = 'a'\n", `fr/ours.toml:1: "nav.wards" has no form other`},
		{"['nav.wards']\nother = 'a'\nfew = 'b'\n", `fr/ours.toml:1: "nav.wards": this language has no plural form few; it has many, one, other`},
		{"['board.bed']\nother = 'lit {{.lit}}'\n", `fr/ours.toml:1: "board.bed": nothing stands for lit here; there is bed`},
		{"['board.bed']\nother = 'lit'\n", `fr/ours.toml:1: "board.bed": bed is left out`},
		{"['board.bed']\nother = 'lit {{.bed'\n", `fr/ours.toml:1: "board.bed": `},
		{"['board.bed']\nother = '{{len .bed}}'\n", `fr/ours.toml:1: "board.bed": len .bed cannot stand`},
		{"nav = 3", "fr/ours.toml:1: "},
	} {
		_, err := words.Read(fstest.MapFS{"fr/ours.toml": {Data: []byte(c.text)}})
		var fault *words.Fault
		require.ErrorAs(t, err, &fault, c.text)
		require.ErrorContains(t, err, c.want)
	}
	_, err := words.Read(fstest.MapFS{"français/ours.toml": {Data: []byte("")}, "fr/ours.txt": {}, "it/a.toml": {Data: []byte("['nav.wards']\nother = 'Reparti'\n")}, "it/b.toml": {Data: []byte("['nav.wards']\nother = 'Reparti'\n")}})
	require.ErrorContains(t, err, "no language tag")
	require.ErrorContains(t, err, "fr: no file here ends in .toml")
	require.ErrorContains(t, err, `it/b.toml:1: "nav.wards" stands in it/a.toml too`)
}

func FuzzRead(f *testing.F) {
	f.Add("['nav.wards']\nother = 'Stations'\n")
	f.Add("['board.bed']\nother = '{{if .bed}}{{end}}'\n")
	f.Add("['board.bed']\nother = '{{.bed.x}} {{template \"x\"}} {{len .bed}}'\n")
	f.Add("[a.b]\nother = 1")
	f.Fuzz(func(t *testing.T, text string) {
		all, err := words.Read(fstest.MapFS{"fr/a.toml": {Data: []byte(text)}})
		if err == nil {
			ctx := words.With(t.Context(), words.Speaker{Language: all.Choose("fr")})
			require.NotEqual(t, "[board.bed]", words.Say(ctx, "board.bed", "bed", 2))
		}
	})
}
