package shared

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"gradeline/catalog/gpkg"
)

// WatchOptions are those of Watch.
type WatchOptions struct {
	gpkg.Options
	// PollEvery is how often it looks by itself, where no notification comes through, as behind some
	// connection poolers; 0 = 3 s.
	PollEvery time.Duration
	// Failed is told once that the database cannot be reached, and once for another reason.
	Failed func(error)

	isDeaf bool // for tests: it does not listen
}

// pollEvery is the usual PollEvery; restAfterEnd is the time before a lost connection is made anew,
// shorter in tests.
const pollEvery = 3 * time.Second

var restAfterEnd = 2 * time.Second

// Watch keeps the local copy of a catalogue up to date until ctx ends: whoever reads the copy
// sees what other offices store. The database notifies it of each change, and it looks by itself
// every few seconds.
func Watch(ctx context.Context, address string, o WatchOptions) {
	if o.PollEvery <= 0 {
		o.PollEvery = pollEvery
	}
	said := ""
	for ctx.Err() == nil {
		err := watchOnce(ctx, address, o, func() { said = "" })
		if err == nil || ctx.Err() != nil {
			continue
		}
		if text := err.Error(); text != said {
			said = text
			o.Failed(err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(restAfterEnd):
		}
	}
}

// watchOnce watches over one connection.
func watchOnce(ctx context.Context, address string, o WatchOptions, works func()) (err error) {
	p, err := parse(address)
	if err != nil {
		return err
	}
	o.ReadOnly, o.Create = true, false // nothing is made or migrated
	s := &session{place: p, o: o.Options}
	path, err := s.prepare(ctx)
	if err != nil {
		s.Close()
		return err
	}
	c, err := s.openCopy(ctx, path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	conn, err := p.connect(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close(context.WithoutCancel(ctx)) }()
	if !o.isDeaf {
		if _, err := conn.Exec(ctx, "LISTEN "+quoted(p.schema+"_catalogue")); err != nil {
			return p.fault(err, "listening")
		}
	}
	for seen := int64(-1); ; {
		now, err := p.number(ctx, conn)
		if err == nil && now != seen {
			err = s.refresh(ctx, c)
			seen = now
		}
		if err != nil {
			return err
		}
		works()
		if err := waitForChange(ctx, conn, o.PollEvery); err != nil {
			return p.fault(err, "listening")
		}
	}
}

func (p *place) number(ctx context.Context, conn *pgx.Conn) (n int64, err error) {
	err = conn.QueryRow(ctx, p.filled("SELECT number FROM {s}.shared_state")).Scan(&n)
	return n, p.fault(err, "reading")
}

// waitForChange waits for a notification, or for some time.
func waitForChange(ctx context.Context, conn *pgx.Conn, most time.Duration) error {
	wait, cancel := context.WithTimeout(ctx, most)
	defer cancel()
	_, err := conn.WaitForNotification(wait)
	if err != nil && ctx.Err() == nil && wait.Err() != nil {
		return nil
	}
	return err
}

// WatchInBackground runs Watch in another goroutine until stop is called; it does nothing for a file.
func WatchInBackground(ctx context.Context, name string, o WatchOptions) (stop func()) {
	if !IsAddress(name) {
		return func() {}
	}
	ctx, cancel := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		Watch(ctx, name, o)
	}()
	return func() { cancel(); <-ended }
}
