package wholefile

import (
	"fmt"
	"os"
	"syscall"
	"unsafe"
)

// createUnnamed makes a file without a name in a folder. The kernel removes it when the program ends,
// however it ends (open(2), O_TMPFILE). ok is false where the file system has no such files.
func createUnnamed(dir string) (f *os.File, ok bool) {
	const tmpFile = 0o20000000 | syscall.O_DIRECTORY // O_TMPFILE, which package syscall does not name
	f, err := os.OpenFile(dir, os.O_RDWR|tmpFile, 0o666)
	return f, err == nil
}

// nameUnnamed gives a file without a name one that does not exist yet (linkat(2) by way of /proc).
func nameUnnamed(f *os.File, path string) error {
	const symlinkFollow = 0x400 // AT_SYMLINK_FOLLOW
	here := -100                // AT_FDCWD: relative names begin at the working folder
	from, err := syscall.BytePtrFromString(fmt.Sprintf("/proc/self/fd/%d", f.Fd()))
	if err != nil {
		return err
	}
	to, err := syscall.BytePtrFromString(path)
	if err != nil {
		return err
	}
	_, _, errno := syscall.Syscall6(syscall.SYS_LINKAT, uintptr(here), uintptr(unsafe.Pointer(from)), uintptr(here), uintptr(unsafe.Pointer(to)), symlinkFollow, 0)
	if errno != 0 {
		return &os.LinkError{Op: "link", Old: f.Name(), New: path, Err: errno}
	}
	return nil
}
