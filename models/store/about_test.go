package store

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDescribeNamesTheSchemaAndTheSQLiteOfAnOpenDatabase(t *testing.T) {
	t.Parallel()
	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	about, err := Describe()
	require.NoError(t, err)
	var schema int
	require.NoError(t, s.readDB.QueryRow("SELECT MAX(version_id) FROM goose_db_version").Scan(&schema))
	require.Equal(t, schema, about.Schema)
	var version string
	require.NoError(t, s.readDB.QueryRow("SELECT sqlite_version()").Scan(&version))
	require.Equal(t, version, about.SQLite)
	require.Contains(t, about.Driver, driverModule)
}

func TestErrorsOfBothDriversHaveTheCodesOfSQLite(t *testing.T) {
	t.Parallel()
	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	_, err := s.readDB.Exec("DELETE FROM sites")
	require.Equal(t, 8, sqliteCode(err), "read-only: %v", err)
	_, err = s.writeDB.Exec("INSERT INTO goose_db_version (id, version_id, is_applied) VALUES (1, 1, 1)")
	require.Equal(t, 19, sqliteCode(err), "constraint: %v", err)
	_, err = s.writeDB.Exec("SELECT nothing")
	require.Equal(t, 1, sqliteCode(failed("read", err)), "error, wrapped: %v", err)
	require.Zero(t, sqliteCode(nil))
	_, err = s.writeDB.Exec("PRAGMA max_page_count = 1")
	require.NoError(t, err)
	_, err = s.writeDB.Exec("CREATE TABLE big AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n LIMIT 100000) SELECT x, hex(randomblob(100)) FROM n")
	require.Equal(t, 13, sqliteCode(err), "full: %v", err)
}
