package store

import (
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store/pgtest"
)

// From the first version of PostgreSQL's schema on, each change has a file of the same name for both databases.
func TestBothDatabasesHaveTheSameMigrations(t *testing.T) {
	t.Parallel()
	names := func(d dialect) (names []string) {
		files, err := fs.Glob(d.migrations, "*.sql")
		require.NoError(t, err)
		for _, name := range files {
			if name > "0031_z" {
				names = append(names, name)
			}
		}
		return names
	}
	require.NotEmpty(t, names(sqliteDialect()))
	require.Equal(t, names(sqliteDialect()), names(postgresDialect()))
}

// A migration that takes something away says that programs from before it cannot use the database.
func TestMigrationsThatTakeAwaySaySo(t *testing.T) {
	t.Parallel()
	takes := regexp.MustCompile(`(?i)\b(DROP|RENAME|ALTER COLUMN|SET NOT NULL|TRUNCATE)\b`)
	says := regexp.MustCompile(`(?i)UPDATE least_schema SET version = (\d+)`)
	for _, d := range []dialect{sqliteDialect(), postgresDialect()} {
		files, err := fs.Glob(d.migrations, "*.sql")
		require.NoError(t, err)
		for _, name := range files {
			number, err := strconv.Atoi(name[:4])
			require.NoError(t, err)
			text, err := fs.ReadFile(d.migrations, name)
			require.NoError(t, err)
			if number <= 43 || !takes.Match(text) {
				continue
			}
			said := says.FindSubmatch(text)
			require.NotNil(t, said, "%s of %s takes something away", name, d.name)
			require.Equal(t, strconv.Itoa(number), string(said[1]), "%s of %s", name, d.name)
		}
	}
}

// Replicas of two versions run side by side while one after the other is replaced: what the newer adds, the older does not mind, even if it is
// started again. Once the newer takes something away, the older refuses to start, and changes nothing.
func TestAnOlderProgramRunsBesideANewerUntilSomethingIsTakenAway(t *testing.T) {
	t.Parallel()
	for name, database := range map[string]func(*testing.T) string{
		"SQLite":     func(t *testing.T) string { return filepath.Join(t.TempDir(), "shop.db") },
		"PostgreSQL": func(t *testing.T) string { return pgtest.Empty(t) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dsn := database(t)
			older, err := Open(ctx, dsn)
			require.NoError(t, err)
			defer func() { require.NoError(t, older.Close()) }()
			d := older.dialect
			newer := fstest.MapFS{}
			files, err := fs.Glob(d.migrations, "*.sql")
			require.NoError(t, err)
			for _, f := range files {
				text, err := fs.ReadFile(d.migrations, f)
				require.NoError(t, err)
				newer[f] = &fstest.MapFile{Data: text}
			}
			use := func(n int, s *Store) {
				setup := models.Setup{Site: models.Site{Code: fmt.Sprintf("harbour-%d", n), Name: "Harbour"}}
				_, _, err := s.PutSetup(ctx, setup, "", t0)
				require.NoError(t, err)
				_, err = s.AddEvent(ctx, models.LiveEvent{Site: setup.Site.Code, Kind: "mark", At: t0})
				require.NoError(t, err)
				_, err = s.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: setup.Site.Code, Key: "x"})
				require.NoError(t, err)
			}
			d.migrations = newer

			newer["9998_expand.sql"] = &fstest.MapFile{Data: []byte("-- +goose Up\nALTER TABLE sites ADD COLUMN region TEXT NOT NULL DEFAULT '';\n")}
			require.NoError(t, migrate(ctx, d, dsn, older.writeDB))
			use(1, older)
			again, err := Open(ctx, dsn)
			require.NoError(t, err, "an older replica is started again")
			use(2, again)
			require.NoError(t, again.Ready(ctx))
			require.NoError(t, again.Close())

			newer["9999_contract.sql"] = &fstest.MapFile{Data: []byte("-- +goose Up\nALTER TABLE sites DROP COLUMN region;\nUPDATE least_schema SET version = 9999;\n")}
			require.NoError(t, migrate(ctx, d, dsn, older.writeDB))
			_, err = Open(ctx, dsn)
			require.ErrorContains(t, err, "use a newer hotday")
			d.migrations = newer
			require.NoError(t, migrate(ctx, d, dsn, older.writeDB), "the newer one starts again")
		})
	}
}
