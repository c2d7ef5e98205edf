// Command sidelap assesses a drone lidar survey between "processed" and "delivered":
// what is missing, whether the strips agree, whether the cloud agrees with check points,
// what causes a disagreement, and the report that proves the figures.
//
// This package holds flags, help, progress and exit codes. It computes nothing: see
// package report/assess for the job itself and docs/architecture.md for the whole.
package main

import (
	"context"
	"os"
	"os/signal"
	"slices"
	"syscall"
)

func main() { os.Exit(program()) }

// program runs the command line of this process and returns its exit code. The first Ctrl-C, termination or hang-up
// asks for a clean end; a second one ends at once, and leaves at most hidden temporary files. A signal that
// the caller has the process ignore, as nohup does, stays ignored.
func program() int {
	ends := slices.DeleteFunc([]os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}, signal.Ignored)
	ctx, stop := context.Background(), func() {}
	if len(ends) > 0 {
		ctx, stop = signal.NotifyContext(ctx, ends...)
	}
	defer stop()
	context.AfterFunc(ctx, stop)
	return run(ctx, os.Args[1:], os.Stdout, os.Stderr)
}
