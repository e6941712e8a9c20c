package store

import (
	"io/fs"
	"testing"

	"github.com/stretchr/testify/require"
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
