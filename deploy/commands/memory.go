package commands

import (
	"log/slog"

	"github.com/KimMachineGun/automemlimit/memlimit"
)

// ofMemory is the part of the machine's memory, or of its control group, that the service's own may take before the garbage collector works
// harder. SQLite, the operating system's cache and a backup need the rest. The budgets of requests leave less than enoughMemory in
// use, so the collector holds the service to that on larger machines too.
const (
	ofMemory     = 0.7
	enoughMemory = 256 << 20
)

// limitMemory sets the soft limit of memory unless GOMEMLIMIT has.
func limitMemory(log *slog.Logger) {
	machine := memlimit.ApplyRatio(memlimit.ApplyFallback(memlimit.FromCgroup, memlimit.FromSystem), ofMemory)
	most, err := memlimit.Set(memlimit.WithRatio(1), memlimit.WithProvider(func() (uint64, error) {
		n, err := machine()
		return min(n, enoughMemory), err
	}))
	if err != nil {
		log.Warn("the memory of this machine is unknown; set GOMEMLIMIT to limit what the service uses", "error", err)
		return
	}
	log.Debug("memory", "limit_mib", most>>20)
}
