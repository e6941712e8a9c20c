package cores

import "runtime"

// machine is how many processors the program may use, as the runtime found when the program began.
var machine = runtime.GOMAXPROCS(0)

// Machine is how many processors the program may use at once, and how many goroutines a computation should use at most.
func Machine() int { return machine }

// threadsOf is how many threads there are for each processor once Spare is called.
const threadsOf = 3

// Spare lets more threads run Go code than there are processors. A request then need not wait for computations to be paused, which takes
// 10 ms each time, but gets a thread at once, and the operating system runs it before those that have computed for long.
func Spare() { runtime.GOMAXPROCS(threadsOf * machine) }
