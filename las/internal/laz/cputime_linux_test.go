package laz

import "golang.org/x/sys/unix"

// threadNs is the processor time of this thread in nanoseconds: it does not
// count the time that other programs had the core.
func threadNs() int64 {
	var ts unix.Timespec
	if unix.ClockGettime(unix.CLOCK_THREAD_CPUTIME_ID, &ts) != nil {
		return 0
	}
	return ts.Nano()
}
