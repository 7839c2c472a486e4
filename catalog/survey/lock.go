package survey

import (
	"os"
	"syscall"
)

// lockFile keeps a file for this process; it fails at once where another holds it.
// The system drops the lock with the process, however that ends.
func lockFile(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) }
