package store

import "time"

// Waiting is news of a call that stands still because another program has the file.
type Waiting struct {
	File     string
	Owner    string        // "qgis (process 4711)"; "another program" where the system can't tell
	ForReads bool          // the other only reads, and a change is to be committed
	AtMost   time.Duration // how long the call waits in all
}

// noticeAfter is how long a call waits in silence: most changes are over before.
const noticeAfter = 2 * time.Second

// patiently runs f, which may have to wait for another program, and gives the news
// if it still runs after a while. Where isSure is not set it may be busy by itself:
// then only a lock that another holds is news.
func (c *Catalog) patiently(forReads, isSure bool, f func() error) error {
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
		<-told // the news is never given beside what the caller does next
	}
	return err
}
