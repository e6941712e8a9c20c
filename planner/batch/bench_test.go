package batch

import (
	"syscall"
	"time"
)

// cpu is the processor time of this process so far: the machine is shared.
func cpu() time.Duration {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
