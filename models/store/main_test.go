package store_test

import (
	"os"
	"testing"

	"go.uber.org/goleak"
)

// TestMain lets the tests start this binary again as a program that they kill.
func TestMain(m *testing.M) {
	if what := os.Getenv("HOTDAY_STORE_VICTIM"); what != "" {
		os.Exit(victim(what, os.Getenv("HOTDAY_STORE_DB")))
	}
	goleak.VerifyTestMain(m)
}
