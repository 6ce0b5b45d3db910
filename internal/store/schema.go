package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"github.com/pressly/goose/v3"
	_ "modernc.org/sqlite" // the driver

	"dwellbook/internal/fault"
	"dwellbook/migrations"
)

// migrate makes the file, or brings it to today's shape.
func migrate(ctx context.Context, path string) (err error) {
	db, err := sql.Open("sqlite", source(path, forWriting...))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	provider, err := shapes(db)
	if err != nil {
		return err
	}
	has, err := version(ctx, db)
	if err != nil {
		return err
	}
	want := newest(provider)
	switch {
	case has > want:
		return fault.New(fault.Conflict, "store.schema-newer", "file", path, "has", has, "knows", want)
	case has == want:
		return nil
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("bring the file from shape %d to %d: %w", has, want, err)
	}
	return nil
}

// shapes lists the migrations: the numbered files, and those that hash.
func shapes(db *sql.DB) (*goose.Provider, error) {
	return goose.NewProvider(goose.DialectSQLite3, db, migrations.Files, goose.WithDisableGlobalRegistry(true),
		goose.WithGoMigrations(goose.NewGoMigration(logVersion, &goose.GoFunc{RunTx: beginLog}, nil)))
}

// newest is the number of the last migration that this program has.
func newest(p *goose.Provider) int64 {
	sources := p.ListSources()
	return sources[len(sources)-1].Version
}

// version is the number of the last migration the file has seen; 0: an empty
// file. A file with other tables is no record.
func version(ctx context.Context, db *sql.DB) (int64, error) {
	var tables, goosed int
	err := db.QueryRowContext(ctx, "SELECT count(*), count(CASE WHEN name = 'goose_db_version' THEN 1 END) FROM sqlite_schema").Scan(&tables, &goosed)
	switch {
	case err != nil:
		return 0, err
	case tables == 0:
		return 0, nil
	case goosed == 0:
		return 0, fault.New(fault.Conflict, "store.not-a-record")
	}
	var v int64
	err = db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied").Scan(&v)
	return v, err
}

// checkVersion refuses a file that is not in today's shape.
func checkVersion(ctx context.Context, db *sql.DB, path string) error {
	provider, err := shapes(db)
	if err != nil {
		return err
	}
	has, err := version(ctx, db)
	want := newest(provider)
	switch {
	case err != nil:
		return translate(err)
	case has < want:
		return fault.New(fault.Conflict, "store.schema-older", "file", path, "has", has, "knows", want)
	case has > want:
		return fault.New(fault.Conflict, "store.schema-newer", "file", path, "has", has, "knows", want)
	}
	return nil
}
