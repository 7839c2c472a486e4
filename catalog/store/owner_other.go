//go:build !linux

package store

// lockOwner names who holds the file, where the system can tell.
func lockOwner(string) string { return "another program" }
