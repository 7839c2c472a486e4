package spread

import (
	"context"
	"errors"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"gradeline/catalog"
)

// endedShown is how long a run that has finished is still among those of Status; one that failed
// stays until it is tried again or dropped.
const endedShown = 24 * time.Hour

// Status says where the runs are that are not finished, that failed, or that finished within a day,
// newest first.
func (q *Queue) Status(ctx context.Context) ([]Progress, error) {
	rows, err := q.pool.Query(ctx, "SELECT id FROM run WHERE finished_at IS NULL OR finished_at > now() - make_interval(secs => $1) ORDER BY id DESC", endedShown.Seconds())
	if err != nil {
		return nil, q.fault("cannot be read", err)
	}
	ids, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return nil, q.fault("cannot be read", err)
	}
	return q.progressOf(ctx, ids)
}

// Unfinished says where the runs are that have not ended, oldest first.
func (q *Queue) Unfinished(ctx context.Context) ([]Progress, error) {
	ids, err := q.Runs(ctx)
	if err != nil {
		return nil, err
	}
	return q.progressOf(ctx, ids)
}

func (q *Queue) progressOf(ctx context.Context, ids []int64) ([]Progress, error) {
	out := []Progress{}
	for _, id := range ids {
		p, err := q.Progress(ctx, id)
		if errors.Is(err, catalog.ErrNotFound) { // dropped meanwhile
			continue
		}
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// Board reads a queue for people who watch it. It connects when it is first asked, and again after
// the database was away. It is safe for concurrent use and changes nothing.
type Board struct {
	address string
	mu      sync.Mutex
	queue   *Queue // nil until it is there
}

// NewBoard watches the queue at an address.
func NewBoard(address string) *Board { return &Board{address: address} }

// StatusFunc is Status; nil where the name is not that of a database.
func (b *Board) StatusFunc() func(context.Context) ([]Progress, error) {
	if !IsAddress(b.address) {
		return nil
	}
	return b.Status
}

// Status is that of the queue; nil where the database has none.
func (b *Board) Status(ctx context.Context) ([]Progress, error) {
	q, err := b.connected(ctx)
	if errors.Is(err, errNoQueue) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return q.Status(ctx)
}

func (b *Board) connected(ctx context.Context) (*Queue, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.queue == nil {
		q, err := Open(ctx, b.address, Options{})
		if err != nil {
			return nil, err
		}
		b.queue = q
	}
	return b.queue, nil
}

// Close ends the connections.
func (b *Board) Close() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.queue != nil {
		b.queue.Close()
		b.queue = nil
	}
}
