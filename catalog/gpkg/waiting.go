package gpkg

import (
	"context"
	"errors"
	"fmt"
	"time"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// Waiting reports that a call waits because another program uses the file.
type Waiting struct {
	File     string
	Owner    string        // "qgis (process 4711)"; "another program" where the system doesn't know
	ForReads bool          // the other only reads, and a change is to be committed
	AtMost   time.Duration // the longest wait of the call
}

// String describes the wait in words.
func (w Waiting) String() string {
	doing := "is changing"
	if w.ForReads {
		doing = "is still reading"
	}
	n, unit := int(w.AtMost/time.Second), "second"
	if w.AtMost >= time.Minute && w.AtMost%time.Minute == 0 {
		n, unit = int(w.AtMost/time.Minute), "minute"
	}
	if n != 1 {
		unit += "s"
	}
	return fmt.Sprintf("waits for %s, which %s %s, for up to %d %s", w.Owner, doing, w.File, n, unit)
}

// noticeAfter is the time before a wait is reported: most changes end before that.
const noticeAfter = 2 * time.Second

// patiently runs f, which may have to wait for another program, and reports it if f still runs
// after a while. Without isSure f may itself be busy: then it reports only a lock that another
// program holds.
func (c *File) patiently(forReads, isSure bool, f func() error) error {
	if c.opt.Waiting == nil || c.opt.BusyTimeout <= noticeAfter {
		return f()
	}
	told := make(chan struct{})
	timer := time.AfterFunc(noticeAfter, func() {
		defer close(told)
		if who, found := lockHolder(c.path, forReads); found || isSure {
			c.opt.Waiting(Waiting{File: c.path, Owner: who, ForReads: forReads, AtMost: c.opt.BusyTimeout})
		}
	})
	err := f()
	if !timer.Stop() {
		<-told // the report never runs at the same time as the caller's next work
	}
	return err
}

// waitSlice is how long SQLite itself waits for a lock: it does not hear of a
// cancelled context meanwhile.
const waitSlice = 250 * time.Millisecond

// untilFree runs a statement of the writer that needs a lock. While another program holds the lock
// it repeats the statement, as long as Options allow or until ctx ends. It tries at least once, and
// it never interrupts a try, so that the result is known.
func (c *File) untilFree(ctx context.Context, stmt string) error {
	most := max(0, c.opt.BusyTimeout)
	if err := c.waitsFor(min(most, waitSlice)); err != nil {
		return err
	}
	defer func() { _ = c.waitsFor(most) }() // where it fails, the next statement fails too
	for begun := time.Now(); ; {
		_, err := c.w.ExecContext(context.WithoutCancel(ctx), stmt)
		var se sqlite3.Error
		switch {
		case !errors.As(err, &se) || se.Code != sqlite3.ErrBusy:
			return err
		case ctx.Err() != nil:
			return ctx.Err()
		case time.Since(begun) >= most:
			return err
		}
	}
}

// waitsFor sets how long SQLite waits for a lock in the writer's statements.
func (c *File) waitsFor(d time.Duration) error {
	_, err := c.w.ExecContext(context.Background(), fmt.Sprintf("PRAGMA busy_timeout = %d", d.Milliseconds()))
	return err
}
