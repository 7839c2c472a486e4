//go:build unix

package wholefile

import (
	"os"
	"syscall"
)

// lockNow locks a file that no other program has locked; closing the file releases it.
func lockNow(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) }

// lockAlone waits until no other program holds the file's lock; closing the file releases it.
func lockAlone(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_EX) }
