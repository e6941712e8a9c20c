package api_test

import (
	"context"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// Screens at the front of the line, one that was away for a little and one for long all hear every event once and in order.
func TestEveryScreenHearsEveryEventOnce(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	const live = "/v1/sites/quay/live"
	add := func(n int) {
		for range n {
			_, err := b.store.AddEvent(context.Background(), models.LiveEvent{Site: "quay", Kind: "mark", At: b.clock.Now()})
			require.NoError(t, err)
		}
	}
	there := []*screenStream{b.listen(live, b.token, ""), b.listen(live, b.token, "")}
	var from int
	for _, s := range there {
		at, err := strconv.Atoi(s.next().id)
		require.NoError(t, err)
		from = at
	}
	hears := func(s *screenStream, after, n int) {
		for i := range n {
			require.Equal(t, strconv.Itoa(after+1+i), s.next().id)
		}
	}
	add(500)
	for _, s := range there {
		hears(s, from, 500)
	}
	away := func(id int) *screenStream {
		s := b.listen(live, b.token, strconv.Itoa(id))
		require.Equal(t, "hello", s.next().event)
		return s
	}
	hears(away(from+490), from+490, 10)
	long := away(from + 3)
	hears(long, from+3, 497)
	add(3)
	for _, s := range append(there, long) {
		hears(s, from+500, 3)
	}
}
