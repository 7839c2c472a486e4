//go:build !linux

package gpkg

const anotherProgram = "another program"

// lockOwner names who holds the file, where the system can tell.
func lockOwner(string) string { return anotherProgram }

func lockHolder(string, bool) (who string, found bool) { return anotherProgram, false }
