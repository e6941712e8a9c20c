package api_test

import (
	"context"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// Connected screens, one that reconnects within the buffer and one that is far behind all get every event once and in order.
func TestEveryScreenGetsEveryEventOnce(t *testing.T) {
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
	connected := []*screenStream{b.listen(live, b.token, ""), b.listen(live, b.token, "")}
	var from int
	for _, s := range connected {
		at, err := strconv.Atoi(s.next().id)
		require.NoError(t, err)
		from = at
	}
	gets := func(s *screenStream, after, n int) {
		for i := range n {
			require.Equal(t, strconv.Itoa(after+1+i), s.next().id)
		}
	}
	add(500)
	for _, s := range connected {
		gets(s, from, 500)
	}
	reconnect := func(id int) *screenStream {
		s := b.listen(live, b.token, strconv.Itoa(id))
		require.Equal(t, "hello", s.next().event)
		return s
	}
	gets(reconnect(from+490), from+490, 10)
	behind := reconnect(from + 3)
	gets(behind, from+3, 497)
	add(3)
	for _, s := range append(connected, behind) {
		gets(s, from+500, 3)
	}
}
