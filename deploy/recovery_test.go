package deploy_test

import (
	"encoding/json"
	"net/http"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store/pgtest"
)

// What cluster.md says about recovery to a moment, done with a real server: a base backup, the archived log, and then everything of the
// moment is there and nothing that came after.
func TestPostgreSQLIsRecoveredToAMoment(t *testing.T) {
	t.Parallel()
	db := pgtest.Archive(t)
	key := t.TempDir() + "/hotday.key"
	_, _, exit := hotday(t, "", "secrets", "new", key)
	require.Zero(t, exit)
	flags := []string{"--secret-file", key}

	s := serve(t, nil, db.DSN(), flags...)
	s.setUp(t)
	// Windows of one item, so that each post is one more row.
	window := time.Now().UTC().Truncate(time.Hour).AddDate(0, 0, -1)
	post := func(s *served, hour int) (answer map[string]any) {
		from := window.Add(time.Duration(hour) * time.Hour)
		res, body := s.send(t, http.MethodPost, "/v1/sites/"+s.site+"/sales-counts", map[string]any{"source": "till", "counts": []any{
			map[string]any{"item": "101", "window_start": from, "window_end": from.Add(time.Hour), "count": 3 + hour}}})
		require.Equal(t, http.StatusOK, res.StatusCode, body)
		require.NoError(t, json.Unmarshal([]byte(body), &answer))
		return answer
	}
	hooked, body := s.send(t, http.MethodPost, "/v1/webhooks", map[string]any{"url": "https://hooks.example.com/", "events": []string{models.HookPublished}, "site": s.site})
	require.Equal(t, http.StatusCreated, hooked.StatusCode, body)

	post(s, 0)
	base := db.BaseBackup(t)
	require.InDelta(t, 1, post(s, 1)["new"], 0)
	time.Sleep(10 * time.Millisecond) // commits have times to a microsecond; the clock must have moved
	moment := db.Now(t)
	time.Sleep(10 * time.Millisecond)
	require.InDelta(t, 1, post(s, 2)["new"], 0)
	gone, body := s.send(t, http.MethodDelete, "/v1/sites/"+s.site+"?confirm="+s.site, nil) // what must be undone
	require.Less(t, gone.StatusCode, 300, body)
	s.stop(os.Interrupt)
	db.Lose(t)

	again := db.Recover(t, base, moment)
	said, _, exit := hotday(t, "", "check", "--db", again.DSN(), "--secret-file", key)
	require.Zero(t, exit, said)
	s = serve(t, nil, again.DSN(), flags...)
	require.InDelta(t, 1, post(s, 0)["unchanged"], 0, "before the base backup")
	require.InDelta(t, 1, post(s, 1)["unchanged"], 0, "after it, before the moment")
	require.InDelta(t, 1, post(s, 2)["new"], 0, "after the moment: the till sends it again")
	status, list := get(t, s.address+"/v1/webhooks", s.key)
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, list, "hooks.example.com")
	s.stop(os.Interrupt)
}
