// Command gradeline finds long downgrades from elevation rasters and road
// lines, and says which gear and speed each truck can hold on its retarder.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := endInTime(ctx, graceTime, os.Stderr, func() int { return run(ctx, os.Args, os.Stdin, os.Stdout, os.Stderr) })
	stop()
	os.Exit(code)
}
