package survey

import (
	"os"
	"syscall"
)

// lockFile locks a file for this process. It fails immediately if another process holds the lock.
// The system releases the lock when the process ends, however it ends.
func lockFile(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) }
