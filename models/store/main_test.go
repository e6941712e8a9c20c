package store_test

import (
	"os"
	"testing"

	"go.uber.org/goleak"

	"hotday/models/store/pgtest"
)

// TestMain also runs this binary as the victim of the kill tests.
func TestMain(m *testing.M) {
	if mode := os.Getenv("HOTDAY_STORE_VICTIM"); mode != "" {
		os.Exit(victim(mode, os.Getenv("HOTDAY_STORE_DB")))
	}
	goleak.VerifyTestMain(m, goleak.Cleanup(func(code int) { pgtest.Stop(); os.Exit(code) }), goleak.IgnoreAnyFunction("hotday/models/store/pgtest.(*server).begin.func1"))
}
