//go:build !linux

package main

import (
	"context"
	"io"
)

// slowMount knows no mount points here.
func slowMount([]string) string { return "" }

// littleMemory knows no memory groups here.
func littleMemory() int64 { return 0 }

func supervise(context.Context, string, int64, []string, io.Writer) int { return exitFailed }
