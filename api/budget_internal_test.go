package api

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestBudgetKeepsACallerToItsShare(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &budget{most: 10, share: 6, line: 1, wait: time.Second, own: "yours", all: "theirs"}
		a, err := b.reserve(t.Context(), "a", 6)
		require.NoError(t, err)
		waited := make(chan error)
		go func() {
			_, err := b.reserve(t.Context(), "a", 1)
			waited <- err
		}()
		synctest.Wait()
		_, err = b.reserve(t.Context(), "a", 1)
		require.Equal(t, models.CodeTooMany, models.CodeOf(err), "one of a's waits already")
		other, err := b.reserve(t.Context(), "b", 4)
		require.NoError(t, err, "a's waiting reservation does not hold up b")
		_, err = b.reserve(t.Context(), "c", 1)
		require.Equal(t, models.CodeBusy, models.CodeOf(err))
		require.Equal(t, models.CodeTooMany, models.CodeOf(<-waited))
		other()
		a()
		a() // once more changes nothing
		whole, err := b.reserve(t.Context(), "c", 100)
		require.NoError(t, err, "more than a share counts as the share")
		whole()
		assert.Zero(t, b.used)
		assert.Empty(t, b.callers)
	})
}

func TestBudgetIsGrantedInTheOrderOfArrival(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &budget{most: 10, share: 10, line: 5, wait: time.Minute}
		release, err := b.reserve(t.Context(), "a", 5)
		require.NoError(t, err)
		var order []string
		ask := func(ctx context.Context, caller string, n int64) {
			go func() {
				done, err := b.reserve(ctx, caller, n)
				if err != nil {
					order = append(order, caller+" "+err.Error())
					return
				}
				order = append(order, caller)
				done()
			}()
			synctest.Wait()
		}
		leaves, leave := context.WithCancel(t.Context())
		ask(leaves, "b", 9)
		ask(t.Context(), "c", 8)
		ask(t.Context(), "d", 3)
		assert.Empty(t, order, "a small one does not overtake a large one for ever")
		leave()
		synctest.Wait()
		assert.Equal(t, []string{"b context canceled"}, order)
		release()
		synctest.Wait()
		assert.Equal(t, []string{"b context canceled", "c", "d"}, order)
		assert.Empty(t, b.callers)
	})
}
