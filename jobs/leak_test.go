package jobs

import (
	"testing"

	"go.uber.org/goleak"
)

// TestMain fails if a goroutine outlives its context.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
