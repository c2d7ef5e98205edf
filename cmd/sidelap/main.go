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
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
