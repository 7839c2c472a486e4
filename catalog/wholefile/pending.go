package wholefile

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// pending is a file that is being written: without a name where the file system can keep one, so that
// nothing is left of a killed program; else with a temporary name next to the target.
type pending struct {
	*os.File
	name string // empty while it has none
}

// createPending makes an empty file in the folder of path, with the permissions that the process's
// umask leaves to a new file.
func createPending(path string) (*pending, error) {
	removeLeft(path)
	if f, ok := createUnnamed(filepath.Dir(path)); ok {
		return &pending{File: f}, nil
	}
	return createNamed(path)
}

// createNamed is createPending with a temporary name. (os.CreateTemp's permissions are 0600, and
// widening them afterwards would ignore the umask.) The lock says that its writer lives.
func createNamed(path string) (*pending, error) {
	for try := 0; ; try++ {
		name := nameBeside(path)
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
		if err == nil {
			_ = lockNow(f) // a file system without locks: its age alone protects it
			return &pending{f, name}, nil
		}
		if !errors.Is(err, fs.ErrExist) || try == 100 {
			return nil, err
		}
	}
}

const leftEnd = ".tmp"

// nameBeside is a new name in the folder of path.
func nameBeside(path string) string {
	dir, base := filepath.Split(path)
	return filepath.Join(dir, fmt.Sprintf(".%s.%d%s", base, rand.Uint64(), leftEnd))
}

// discard closes the file and removes its temporary name, if it has one.
func (p *pending) discard() {
	p.Close()
	if p.name != "" {
		os.Remove(p.name)
	}
}

// publish gives the synced file the name path, which may replace another file with force only.
func (p *pending) publish(path string, force bool) error {
	if p.name == "" && !force {
		switch err := nameUnnamed(p.File, path); {
		case err == nil:
			return nil
		case errors.Is(err, fs.ErrExist):
			return exists(path)
		}
	}
	if p.name == "" {
		if err := p.giveTemporaryName(path); err != nil {
			return cannotWrite(path, err)
		}
	}
	return giveName(p.name, path, force)
}

// giveTemporaryName gives a file without a name one next to path, from which it can be renamed.
func (p *pending) giveTemporaryName(path string) error {
	name := nameBeside(path)
	if nameUnnamed(p.File, name) == nil {
		p.name = name
		return nil
	}
	copied, err := createNamed(path) // without /proc no name can be given
	if err != nil {
		return err
	}
	_, err = p.Seek(0, io.SeekStart)
	if err == nil {
		_, err = io.Copy(copied, p.File)
	}
	if info, e := p.Stat(); err == nil && e == nil {
		err = copied.Chmod(info.Mode().Perm())
	}
	if err = errors.Join(err, copied.Sync()); err != nil {
		copied.discard()
		return err
	}
	p.Close()
	*p = *copied
	return nil
}

// leftAfter is the age at which a temporary file that no program holds is taken for one that a killed
// program has left.
const leftAfter = time.Hour

var leftNames sync.Map // of each folder that was written to: []string

// removeLeft removes the temporary files of path that killed programs have left. A folder is looked
// through once.
func removeLeft(path string) {
	dir, base := filepath.Split(path)
	names, known := leftNames.Load(dir)
	if !known {
		var left []string
		if list, err := os.ReadDir(filepath.Clean(dir + ".")); err == nil {
			for _, e := range list {
				if strings.HasPrefix(e.Name(), ".") && strings.HasSuffix(e.Name(), leftEnd) {
					left = append(left, e.Name())
				}
			}
		}
		names = left
		leftNames.Store(dir, names)
	}
	for _, name := range names.([]string) {
		number, isOurs := strings.CutPrefix(strings.TrimSuffix(name, leftEnd), "."+base+".")
		if !isOurs || number == "" || strings.Trim(number, "0123456789") != "" {
			continue
		}
		removeIfLeft(filepath.Join(dir, name))
	}
}

// removeIfLeft removes a temporary file that is old and that no program has locked.
func removeIfLeft(name string) {
	info, err := os.Lstat(name)
	if err != nil || !info.Mode().IsRegular() || time.Since(info.ModTime()) < leftAfter {
		return
	}
	f, err := os.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return
	}
	defer f.Close()
	if lockNow(f) == nil {
		os.Remove(name)
	}
}
