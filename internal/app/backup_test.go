package app_test

import (
	"bytes"
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/store"
)

func TestBackups_AreMadeWhileServingAndRestoreToTheSameRecord(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	s := newSceneWith(t, sceneNow, app.Config{Backups: app.Backups{Folder: folder, Every: time.Hour, Keep: 2}})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.app.Run(ctx, l) }()
	var copies []store.Copy
	require.Eventually(t, func() bool {
		copies, err = store.Copies(folder)
		return err == nil && len(copies) == 1
	}, time.Minute, 5*time.Millisecond, "the first is made at once")
	stop()
	require.NoError(t, <-ended)

	db := filepath.Join(t.TempDir(), "restored.db")
	r, err := app.Restore(t.Context(), copies[0].File, db, false, s.now)
	require.NoError(t, err)
	var record, restored bytes.Buffer
	require.NoError(t, app.ExportEntries(t.Context(), s.file, &record))
	require.NoError(t, app.ExportEntries(t.Context(), db, &restored))
	require.Equal(t, record.String(), restored.String())
	require.NotZero(t, r.Entries)
}

func TestBackupsPage_TellsHowTheCopiesStandAndWarns(t *testing.T) {
	t.Parallel()
	const (
		noFolder = "No backups are set up here"
		none     = "There is no backup yet"
		old      = "The last good backup is old"
		failed   = "The last try to make a backup failed"
	)
	for name, c := range map[string]struct {
		every, age time.Duration // age: of the copy that is there; 0: none is
		nowhere    bool
		lost       bool // the folder has gone since the start
		warning    string
	}{
		"nowhere":                  {nowhere: true, warning: noFolder},
		"none yet":                 {every: time.Hour, warning: none},
		"young":                    {every: time.Hour, age: 2 * time.Hour},
		"one was left out":         {every: time.Hour, age: 2*time.Hour + time.Minute, warning: old},
		"nightly, by others":       {age: 26 * time.Hour},
		"a night was left out":     {age: 26*time.Hour + time.Minute, warning: old},
		"the folder has gone away": {every: time.Hour, age: time.Hour, lost: true, warning: none},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			folder := t.TempDir()
			kept := app.Backups{Folder: folder, Every: c.every, Keep: 1}
			if c.nowhere {
				kept = app.Backups{}
			}
			s := newSceneWith(t, sceneNow, app.Config{Backups: kept})
			if c.age != 0 {
				file := s.now.Add(-c.age).Format("record-20060102T150405Z.db")
				require.NoError(t, os.WriteFile(filepath.Join(folder, file), make([]byte, 12_345_678), 0o600))
			}
			if c.lost {
				require.NoError(t, os.RemoveAll(folder))
			}
			admin := s.client(t, account.Administrator)
			for _, path := range []string{"/backups", "/people"} {
				page := body(t, admin, s.server.URL+path)
				for _, warning := range []string{noFolder, none, old, failed} {
					if warning == c.warning {
						require.Contains(t, page, warning, path)
					} else {
						require.NotContains(t, page, warning, path)
					}
				}
			}
			page := body(t, admin, s.server.URL+"/backups")
			if c.age != 0 && !c.lost {
				require.Contains(t, page, "12 MB")
				require.Contains(t, page, "since the last good backup")
			}
			if c.lost {
				require.Contains(t, page, "The cause stands in the server’s log")
			}
		})
	}
}

func TestBackups_RefuseWhatWouldKeepNone(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	for name, b := range map[string]app.Backups{
		"no folder named": {Every: time.Hour, Keep: 1},
		"folder is not":   {Folder: filepath.Join(file, "none"), Keep: 1},
		"folder is file":  {Folder: file, Keep: 1},
		"keeps none":      {Folder: t.TempDir(), Every: time.Hour},
		"too often":       {Folder: t.TempDir(), Every: time.Second, Keep: 1},
	} {
		_, err := app.New(t.Context(), app.Config{DB: filepath.Join(t.TempDir(), "record.db"), Backups: b})
		var misuse *app.Misuse
		require.True(t, errors.As(err, &misuse), name)
	}
}
