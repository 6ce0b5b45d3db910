package app

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

type languageKey struct{}

// InLanguage makes the commands answer in a language, whatever the hospital's
// is. A language that is not there is a [*Misuse].
func InLanguage(ctx context.Context, tag string) (context.Context, error) {
	all := words.Embedded()
	if !all.Speaks(tag) {
		var tags []string
		for _, l := range all {
			tags = append(tags, l.Tag())
		}
		return nil, &Misuse{Text: fmt.Sprintf("-lang: %q is not spoken here; there is %s", tag, strings.Join(tags, ", "))}
	}
	ctx = context.WithValue(ctx, languageKey{}, tag)
	return words.With(ctx, words.Speaker{Language: all.Choose(tag)}), nil
}

// Speaking gives a context in which words are put for a reader in the zone: in
// the language asked for by [InLanguage], else in the hospital's.
func Speaking(ctx context.Context, hospital line.Hospital, zone *time.Location, now line.Minute) context.Context {
	asked, _ := ctx.Value(languageKey{}).(string)
	return words.With(ctx, words.Speaker{Language: words.Embedded().Choose(asked, hospital.Language), Zone: zone, Now: now})
}

// ReadWords reads the folder of a hospital's own words; of no folder, nothing.
// What is wrong in the files is a [*Misuse] that names each file and line.
func ReadWords(folder string) (words.Languages, error) {
	if folder == "" {
		return nil, nil
	}
	all, err := words.Read(os.DirFS(folder))
	if fault := (*words.Fault)(nil); errors.As(err, &fault) {
		return nil, &Misuse{Text: "-words " + folder + ":\n" + err.Error()}
	}
	return all, err
}
