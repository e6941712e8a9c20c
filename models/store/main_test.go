package store_test

import (
	"os"
	"testing"

	"go.uber.org/goleak"
)

// TestMain also runs this binary as the victim of the kill tests.
func TestMain(m *testing.M) {
	if mode := os.Getenv("HOTDAY_STORE_VICTIM"); mode != "" {
		os.Exit(victim(mode, os.Getenv("HOTDAY_STORE_DB")))
	}
	goleak.VerifyTestMain(m)
}
