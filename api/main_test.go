package api_test

import (
	"os"
	"testing"

	"hotday/models/store/pgtest"
)

func TestMain(m *testing.M) {
	code := m.Run()
	pgtest.Stop()
	os.Exit(code)
}
