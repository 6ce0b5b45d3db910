package words

import (
	"io/fs"

	"golang.org/x/text/language"
)

// Sentences gives every form of every sentence that the program carries in a
// language, checked like those of a hospital's own.
func Sentences(tag string) (map[string]map[string]string, error) {
	folder, err := fs.Sub(files, tag)
	if err != nil {
		return nil, err
	}
	check := checker(language.MustParse(tag))
	all := map[string]map[string]string{}
	_, err = read(folder, tag, func(key string, forms map[string]string) string {
		all[key] = forms
		return check(key, forms)
	})
	return all, err
}
