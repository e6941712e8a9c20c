package commands

import (
	"log/slog"

	"github.com/KimMachineGun/automemlimit/memlimit"
)

// ofMemory is the part of the machine's memory, or of its control group, that the service's own may grow to before the garbage
// collector works harder. SQLite, the operating system's cache and a backup need the rest.
const ofMemory = 0.7

// limitMemory sets the soft limit of memory unless GOMEMLIMIT has.
func limitMemory(log *slog.Logger) {
	most, err := memlimit.Set(memlimit.WithRatio(ofMemory), memlimit.WithProvider(memlimit.ApplyFallback(memlimit.FromCgroup, memlimit.FromSystem)))
	if err != nil {
		log.Warn("the memory of this machine is unknown; set GOMEMLIMIT to limit what the service uses", "error", err)
		return
	}
	log.Debug("memory", "limit_mib", most>>20)
}
