package app_test

import (
	_ "github.com/a-h/templ"
	_ "github.com/alexedwards/argon2id"
	_ "github.com/alexedwards/scs/v2"
	_ "github.com/chromedp/chromedp"
	_ "github.com/go-chi/chi/v5"
	_ "github.com/google/uuid"
	_ "github.com/pressly/goose/v3"
	_ "golang.org/x/crypto/argon2"
	_ "gonum.org/v1/gonum/stat/distuv"
	_ "modernc.org/sqlite"
)
