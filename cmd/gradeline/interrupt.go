package main

import (
	"context"
	"fmt"
	"io"
	"time"
)

// graceTime is how long a command has after an interrupt to end by itself. A read from a
// pipe, a socket or a network mount that hangs can't be cancelled.
const graceTime = 1500 * time.Millisecond

// endInTime runs a command and gives its exit code. After an interrupt it waits no longer than
// graceTime. Finished work is kept. No output is half written, because outputs are renamed into
// place.
func endInTime(ctx context.Context, grace time.Duration, errOut io.Writer, command func() int) int {
	done := make(chan int, 1)
	go func() { done <- command() }()
	select {
	case code := <-done:
		return code
	case <-ctx.Done():
	}
	select {
	case code := <-done:
		return code
	case <-time.After(grace):
		fmt.Fprintln(errOut, "gradeline: interrupted while a file did not answer; finished work is kept")
		return exitInterrupted
	}
}
