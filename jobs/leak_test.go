package jobs

import (
	"testing"

	"go.uber.org/goleak"
)

// TestMain fails where a job, a schedule or a worker outlives its context.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
