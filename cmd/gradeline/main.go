// Command gradeline finds long downgrades from elevation rasters and road
// lines, and says which gear and speed each truck can hold on its retarder.
package main

import (
	"context"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
)

// collectAtPct is how far the heap may grow over what is live before it is collected. A survey's
// live heap is small: a third more memory saves some 4 % of its time.
const collectAtPct = 200

func main() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(collectAtPct)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	if mount, memoryB := slowMount(os.Args[1:]), littleMemory(); mount != "" || memoryB > 0 {
		code := supervise(ctx, mount, memoryB, os.Args, os.Stderr)
		stop()
		os.Exit(code)
	}
	code := endInTime(ctx, graceTime, os.Stderr, func() int { return run(ctx, os.Args, os.Stdin, os.Stdout, os.Stderr) })
	stop()
	os.Exit(code)
}
