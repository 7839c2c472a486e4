package spread

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"

	"gradeline/catalog"
	"gradeline/catalog/shared"
	"gradeline/terrain"
)

// Queue is the queue of surveys in a database.
type Queue struct {
	pool   *pgxpool.Pool
	name   string  // of the database, for messages: no password
	batchM float64 // of road in a job
}

// Options say how a queue is opened.
type Options struct {
	Create      bool // make the tables where there are none, which needs the right to create a schema
	Connections int  // 0: some
}

const (
	connectWait = 20 * time.Second
	keepAlive   = 10 * time.Second // a peer that is gone is noticed after some of these
)

// Open connects to the queue at an address. Passwords come from the environment, a password file or
// a service file, as for every program that uses PostgreSQL.
func Open(ctx context.Context, address string, o Options) (*Queue, error) {
	config, err := pgxpool.ParseConfig(shared.Spelled(address))
	if err != nil {
		return nil, refusal("the database's address is not readable", "write it as in postgres://USER@HOST/DATABASE")
	}
	c := config.ConnConfig
	q := &Queue{name: "database " + c.Database + " on " + c.Host, batchM: batchM}
	delete(c.RuntimeParams, "schema") // of the catalogue, whose address this may be; the server knows no such setting
	c.RuntimeParams["search_path"], c.RuntimeParams["application_name"] = schema, "gradeline"
	c.RuntimeParams["timezone"] = "UTC"
	if c.ConnectTimeout == 0 {
		c.ConnectTimeout = connectWait
	}
	c.DialFunc = (&net.Dialer{KeepAlive: keepAlive, Timeout: c.ConnectTimeout}).DialContext
	config.MaxConns = int32(max(4, o.Connections))
	if q.pool, err = pgxpool.NewWithConfig(ctx, config); err != nil {
		return nil, q.fault("cannot be opened", err)
	}
	if o.Create {
		err = q.makeLayout(ctx)
	} else {
		err = q.checkLayout(ctx)
	}
	if err != nil {
		q.pool.Close()
		return nil, q.fault("cannot be opened", err)
	}
	return q, nil
}

// Close ends the connections.
func (q *Queue) Close() { q.pool.Close() }

// localNow is this machine's clock; tests set it wrong.
var localNow = time.Now

// clock gives River the database's time on a machine whose own clock is wrong.
type clock struct{ ahead time.Duration }

// Now is the database's time.
func (c clock) Now() time.Time { return localNow().Add(c.ahead) }

// NowOrNil is nil, so that the database puts in its own time.
func (c clock) NowOrNil() *time.Time { return nil }

// clockOf compares this machine's clock with the database's.
func (q *Queue) clockOf(ctx context.Context) (clock, error) {
	var now time.Time
	before := localNow()
	if err := q.pool.QueryRow(ctx, "SELECT clock_timestamp()").Scan(&now); err != nil {
		return clock{}, err
	}
	after := localNow()
	return clock{now.Sub(before.Add(after.Sub(before) / 2))}, nil
}

// client is a River client. Its maintenance is off: it would go by machines' clocks, and the queue
// looks after lost jobs by itself.
func (q *Queue) client(c clock, queues map[string]river.QueueConfig, workers *river.Workers) (*river.Client[pgx.Tx], error) {
	config := &river.Config{Schema: schema, Queues: queues, Workers: workers, Logger: slog.New(slog.DiscardHandler), LeaderElectionDisabled: true,
		JobTimeout: -1, RescueStuckJobsAfter: 24 * 365 * time.Hour, FetchPollInterval: fetchEvery, SkipUnknownJobCheck: true}
	config.Test.Time = c
	return river.NewClient(riverpgxv5.New(q.pool), config)
}

// fetchEvery is how often River looks for jobs of which it was not notified; shorter in tests.
var fetchEvery = time.Second

// fault puts an error of the database into words.
func (q *Queue) fault(what string, err error) error {
	if err == nil {
		return nil
	}
	var f *catalog.Fault
	if errors.As(err, &f) {
		return f
	}
	why, fix := explain(err)
	kind := terrain.ErrRead
	switch {
	case errors.Is(err, errNoQueue):
		kind = errNoQueue
	case isLost(err):
		kind = errAway
	}
	return &catalog.Fault{Kind: kind, File: q.name, What: "the queue of surveys " + what + ": " + why, Fix: fix}
}
