package cores

import (
	"context"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPeopleGoBeforeBackgroundWork(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := New(1)
		release, err := c.InBackground(t.Context())
		require.NoError(t, err)
		var order []string
		run := func(name string, wait func(context.Context) (func(), error)) {
			go func() {
				done, err := wait(t.Context())
				assert.NoError(t, err)
				order = append(order, name)
				done()
			}()
			synctest.Wait()
		}
		run("night", c.InBackground)
		run("first", c.ForPeople)
		run("second", c.ForPeople)
		people, background := c.Waiting()
		assert.Equal(t, []int{2, 1}, []int{people, background})
		release()
		release() // once more changes nothing
		synctest.Wait()
		assert.Equal(t, []string{"first", "second", "night"}, order)
	})
}

func TestBackgroundWorkLeavesACoreToRequests(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := New(4)
		var running atomic.Int32
		for range 10 {
			go func() {
				done, err := c.InBackground(t.Context())
				if err != nil {
					return
				}
				running.Add(1)
				<-t.Context().Done()
				done()
			}()
		}
		synctest.Wait()
		assert.EqualValues(t, 3, running.Load())
		done, err := c.ForPeople(t.Context())
		require.NoError(t, err)
		done()
	})
}

func TestGivingUpLeavesThePlaceToTheNext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := New(1)
		release, err := c.ForPeople(t.Context())
		require.NoError(t, err)
		ctx, cancel := context.WithCancel(t.Context())
		var gaveUp error
		go func() { _, gaveUp = c.ForPeople(ctx) }()
		synctest.Wait()
		cancel()
		synctest.Wait()
		require.ErrorIs(t, gaveUp, context.Canceled)
		_, err = c.ForPeople(ctx)
		require.ErrorIs(t, err, context.Canceled)
		release()
		release, err = c.ForPeople(t.Context())
		require.NoError(t, err, "the core is free again")
		release()
		people, background := c.Waiting()
		assert.Zero(t, people+background)
	})
}

func TestOrdersWithoutEndDoNotKeepBackgroundWorkWaiting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, cores := range []int{1, 2, 4} {
			c := New(cores)
			ctx, stop := context.WithCancel(t.Context())
			var begun atomic.Int32
			for range 3 * cores { // each orders again as soon as it has its plan
				go func() {
					for {
						done, err := c.ForPeople(ctx)
						if err != nil {
							return
						}
						begun.Add(1)
						time.Sleep(time.Second)
						done()
					}
				}()
			}
			for range 5 {
				synctest.Wait() // all that have a core have begun
				before := begun.Load()
				done, err := c.InBackground(ctx)
				require.NoError(t, err)
				assert.LessOrEqual(t, begun.Load()-before, int32(mostPassing+cores), "those that pass, and those that had a core before")
				time.Sleep(time.Second)
				done()
			}
			stop()
			time.Sleep(2 * time.Second)
		}
	})
}
