package store

import (
	"database/sql"
	"fmt"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func storagePost(n int) models.SalesPost {
	p := models.SalesPost{Source: "till"}
	for i := range 100 {
		from := t0.Add(time.Duration(n) * time.Hour)
		p.Counts = append(p.Counts, models.SalesCount{Item: fmt.Sprint(strings.Repeat("item ", 20), i), WindowStart: from, WindowEnd: from.Add(time.Hour), Count: 1})
	}
	return p
}

func TestFullDiskRefusesWritesAndKeepsWhatWasAcknowledged(t *testing.T) {
	t.Parallel()
	s := openFile(t, shopFile(t))
	var pages int
	require.NoError(t, s.writeDB.QueryRow("PRAGMA page_count").Scan(&pages))
	limit := func(n int) {
		_, err := s.writeDB.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", n))
		require.NoError(t, err)
	}
	limit(pages + 30)
	tok, secret, err := s.AddToken(ctx, models.Token{Name: "till", Scopes: []string{models.ScopeSales}}, t0)
	require.NoError(t, err)

	acknowledged := 0
	for {
		if _, err = s.PutCounts(ctx, "harbour", storagePost(acknowledged), t0, "", ""); err != nil {
			break
		}
		acknowledged++
	}
	require.Positive(t, acknowledged)
	require.Equal(t, models.CodeStorage, models.CodeOf(err))
	require.Equal(t, http.StatusServiceUnavailable, models.CodeOf(err).Status())
	require.Equal(t, "the disk is full; nothing was saved", models.ProblemOf(err).Detail)
	require.Equal(t, models.StorageFull, s.StorageState().Problem)

	// Everything can still be read, with a key whose use cannot be recorded.
	got, err := s.TokenBySecret(ctx, secret, t0.Add(time.Hour))
	require.NoError(t, err)
	require.Equal(t, tok.ID, got.ID)
	counts := func() (n int) {
		require.NoError(t, s.readDB.QueryRow("SELECT COUNT(*) FROM sales_counts").Scan(&n))
		return n
	}
	require.Equal(t, acknowledged*100, counts())

	limit(1 << 30)
	_, err = s.PutCounts(ctx, "harbour", storagePost(acknowledged), t0, "", "")
	require.NoError(t, err)
	require.Empty(t, s.StorageState().Problem, "something was saved again")
	require.Equal(t, (acknowledged+1)*100, counts())
	faults, err := faultsOf(ctx, s.writeDB)
	require.NoError(t, err)
	require.Empty(t, faults)
}

func TestHeldLockIsReportedAndPasses(t *testing.T) {
	t.Parallel()
	path := shopFile(t)
	s := openFile(t, path)
	_, secret, err := s.AddToken(ctx, models.Token{Name: "till", Scopes: []string{models.ScopeSales}}, t0)
	require.NoError(t, err)
	_, err = s.writeDB.Exec("PRAGMA busy_timeout = 1")
	require.NoError(t, err)
	other, err := sql.Open(DriverName, sqliteURI(path, "_txlock=immediate"))
	require.NoError(t, err)
	defer func() { require.NoError(t, other.Close()) }()
	held, err := other.Begin()
	require.NoError(t, err)

	_, err = s.PutCounts(ctx, "harbour", storagePost(0), t0, "", "")
	require.Equal(t, models.CodeStorage, models.CodeOf(err))
	require.Contains(t, models.ProblemOf(err).Detail, "locked by another program")
	require.Equal(t, models.CodeStorage, models.CodeOf(s.Ready(ctx)))
	require.Equal(t, models.StorageLocked, s.StorageState().Problem)
	_, err = s.TokenBySecret(ctx, secret, t0)
	require.NoError(t, err)
	_, err = s.Counts(ctx, "harbour", models.SalesFilter{}, models.Page{})
	require.NoError(t, err)

	require.NoError(t, held.Rollback())
	require.NoError(t, s.Ready(ctx))
	_, err = s.PutCounts(ctx, "harbour", storagePost(0), t0, "", "")
	require.NoError(t, err)
	require.Empty(t, s.StorageState().Problem)
}

func TestStorageStateKnowsTheFreeDisk(t *testing.T) {
	t.Parallel()
	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	if _, known := freeDisk(t.TempDir()); !known {
		t.Skip("not known on this system")
	}
	require.Positive(t, s.StorageState().FreeBytes)
}
