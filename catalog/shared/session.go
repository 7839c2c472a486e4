package shared

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// session is the database behind a local copy that is open for writing.
type session struct {
	*place
	o    gpkg.Options
	conn *pgx.Conn     // nil until it is needed
	tx   pgx.Tx        // of the running change; it has the lock
	base gpkg.CopyMark // state of the database that the copy is
}

// connection returns a connection that works: one that was lost between two changes is made anew.
func (s *session) connection(ctx context.Context) (*pgx.Conn, error) {
	conn, err := s.anyConnection(ctx)
	return conn, s.fault(err, "connecting")
}

// anyConnection is connection with the library's own error.
func (s *session) anyConnection(ctx context.Context) (*pgx.Conn, error) {
	if s.conn != nil {
		if s.conn.Ping(ctx) == nil {
			return s.conn, nil
		}
		_ = s.conn.Close(ctx)
		s.conn = nil
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	conn, err := s.enter(ctx)
	if err != nil {
		return nil, err
	}
	s.conn = conn
	_, err = s.find(ctx, conn)
	return s.conn, err
}

// refresh brings a copy up to date from one state of the database. It locks the copy only where there
// is anything to write.
func (s *session) refresh(ctx context.Context, c *gpkg.File) error {
	conn, err := s.connection(ctx)
	if err != nil {
		return err
	}
	tx, err := conn.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return s.fault(err, "reading")
	}
	defer func() { _ = tx.Rollback(context.WithoutCancel(ctx)) }()
	now, err := s.read(ctx, tx)
	if err != nil {
		return err
	}
	var mark gpkg.CopyMark
	err = c.Read(ctx, func(q gpkg.Querier) (err error) { mark, err = gpkg.ReadCopyMark(q); return err })
	if err == nil && mark == (gpkg.CopyMark{Database: now.id, Number: now.number, Change: now.change}) {
		return nil
	}
	return c.ChangeCopy(ctx, func() error {
		_, err := s.pull(ctx, tx, c)
		return s.pullFault(err)
	})
}

// pullFault leaves the sign of a foreign copy as it is, for Open.
func (s *session) pullFault(err error) error {
	if errors.Is(err, errForeignCopy) {
		return &Fault{Kind: errForeignCopy, File: s.name, What: "the database was replaced while it was in use", Fix: "run it again"}
	}
	return s.fault(err, "reading")
}

// Lock begins a transaction, waits for the turn in it, and pulls.
func (s *session) Lock(ctx context.Context, c *gpkg.File) (wrote bool, err error) {
	if err := s.takeTurn(ctx); err != nil {
		return false, err
	}
	wrote, err = s.pull(ctx, s.tx, c)
	if err == nil {
		s.base, err = gpkg.ReadCopyMark(c)
	}
	if err != nil {
		s.Unlock()
	}
	return wrote, s.pullFault(err)
}

// takeTurn begins a transaction with the lock. A database that was there before is waited for, as long
// as for another program: nothing was done yet.
func (s *session) takeTurn(ctx context.Context) error {
	wasThere := s.conn != nil
	for end := time.Now().Add(min(s.o.BusyTimeout, askAgainFor)); ; time.Sleep(askAgainAfter) {
		conn, err := s.anyConnection(ctx)
		if err == nil {
			if err = s.waitForTurn(ctx, conn); err == nil {
				return nil
			}
			s.Unlock()
		}
		if !wasThere || !isAway(err) || ctx.Err() != nil || time.Now().After(end) {
			return s.fault(err, "waiting for its turn")
		}
	}
}

// noticeAfter is the time before a wait is reported: most changes end before that.
const noticeAfter = 2 * time.Second

// waitForTurn begins a transaction with the lock. Where another program has it for longer, it is
// reported by name.
func (s *session) waitForTurn(ctx context.Context, conn *pgx.Conn) error {
	left := max(time.Millisecond, s.o.BusyTimeout)
	if s.o.BusyTimeout == 0 {
		left = 5 * time.Second
	}
	first := left
	if s.o.Waiting != nil {
		first = min(left, noticeAfter)
	}
	err := s.tryLock(ctx, conn, first)
	if !isLockTimeout(err) {
		return err
	}
	who := s.holder(ctx, conn)
	if left > first {
		s.o.Waiting(gpkg.Waiting{File: s.name, Owner: who, AtMost: left})
		err = s.tryLock(ctx, conn, left-first)
	}
	if isLockTimeout(err) {
		return &Fault{Kind: catalog.ErrBusy, File: s.name, What: "in use by " + s.holder(ctx, conn), Fix: "wait until it has finished, then try again; nothing was stored"}
	}
	return err
}

func isLockTimeout(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && pg.Code == "55P03"
}

func (s *session) tryLock(ctx context.Context, conn *pgx.Conn, most time.Duration) error {
	tx, err := conn.Begin(ctx)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, fmt.Sprintf("SET LOCAL lock_timeout = %d", max(1, most.Milliseconds())))
	if err == nil {
		_, err = tx.Exec(ctx, lockSQL, s.schema)
	}
	if err == nil {
		_, err = tx.Exec(ctx, "SET LOCAL lock_timeout = 0")
	}
	if err != nil {
		_ = tx.Rollback(context.WithoutCancel(ctx))
		return err
	}
	s.tx = tx
	return nil
}

// holder names the program that has the turn.
func (s *session) holder(ctx context.Context, conn *pgx.Conn) string {
	var role, program string
	err := conn.QueryRow(ctx, "SELECT coalesce(a.usename::text, ''), coalesce(a.application_name, '') FROM pg_locks l JOIN pg_stat_activity a USING (pid) "+
		"WHERE l.locktype = 'advisory' AND l.granted AND l.database = (SELECT oid FROM pg_database WHERE datname = current_database()) AND l.objid = hashtext($1)::bit(32)::bigint::oid LIMIT 1", s.schema).Scan(&role, &program)
	if err != nil || role == "" {
		return "another program"
	}
	if program == "" {
		program = "a program"
	}
	return program + " (" + quoteUser(role) + ")"
}

// Store pushes, marks the copy and commits. Where the connection is lost it looks, under the lock,
// what became of the change, and stores the same rows once more if they are not there and nobody
// else has stored anything: then all that the change was decided on is as it was.
func (s *session) Store(ctx context.Context, c *gpkg.File, changed []gpkg.ChangedRows) error {
	id := newID()
	for try := 1; ; try++ {
		isUnknown, err := s.storeOnce(ctx, c, changed, id)
		if err == nil || !isLost(err) || ctx.Err() != nil {
			s.Unlock()
			return s.fault(err, "storing")
		}
		isStored, why := s.lookAgain(ctx, id, err, isUnknown)
		switch {
		case isStored:
			return nil
		case why != nil:
			return why
		case try == mostStores:
			s.Unlock()
			return s.fault(err, "storing")
		}
	}
}

// mostStores is how often the rows of a change are sent at the most.
const mostStores = 4

// storeOnce pushes and commits in the transaction that has the lock. isUnknown is set where the
// connection was lost when the COMMIT may have reached the database.
func (s *session) storeOnce(ctx context.Context, c *gpkg.File, changed []gpkg.ChangedRows, id string) (isUnknown bool, err error) {
	mark := s.base
	err = s.tx.QueryRow(ctx, s.filled("SELECT {s}.shared_number($1::text::uuid, $2)"), id, toolName(s.o.Tool)).Scan(&mark.Number)
	if err == nil {
		err = s.push(ctx, s.tx, c, changed, s.base.Number)
	}
	if err == nil {
		mark.Change = id
		err = c.WriteCopyMark(mark)
	}
	if err != nil {
		return false, err
	}
	err = s.tx.Commit(context.WithoutCancel(ctx))
	s.tx = nil
	var pg *pgconn.PgError
	isAnswer := errors.As(err, &pg) && !isLost(pg) || errors.Is(err, pgx.ErrTxCommitRollback)
	return err != nil && !isAnswer, err
}

// lookAgain finds out what became of a change whose connection was lost. Where it is not stored it
// returns with the lock, in the state on which the change was decided, or says why that cannot be.
// The lock makes sure that the server has ended the lost transaction.
func (s *session) lookAgain(ctx context.Context, id string, lost error, isUnknown bool) (isStored bool, why error) {
	s.Unlock()
	gone := &Fault{Kind: catalog.ErrBusy, File: s.name, What: "the connection was lost while the change was being stored", Err: plain(lost), Fix: "try again; nothing was stored"}
	if isUnknown {
		ctx = context.WithoutCancel(ctx)
		gone = &Fault{Kind: catalog.ErrBusy, File: s.name, What: "the connection was lost while the change was being stored, and the database does not answer whether it was", Err: plain(lost),
			Fix: "look whether it is there before doing it again"}
	}
	wait := max(askAgainFor, min(s.o.BusyTimeout, askAgainMost))
	ctx, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	for ; ; time.Sleep(askAgainAfter) {
		conn, err := s.anyConnection(ctx)
		if err == nil {
			err = s.tryLock(ctx, conn, wait)
		}
		if err == nil {
			err = s.tx.QueryRow(ctx, s.filled("SELECT EXISTS (SELECT FROM {s}.shared_changes WHERE id::text = $1)"), id).Scan(&isStored)
		}
		var now state
		if err == nil && !isStored {
			now, err = s.read(ctx, s.tx)
		}
		switch {
		case err == nil && isStored:
			s.Unlock()
			return true, nil
		case err == nil && s.base == gpkg.CopyMark{Database: now.id, Number: now.number, Change: now.change}:
			return false, nil
		case err == nil:
			s.Unlock()
			return false, &Fault{Kind: catalog.ErrBusy, File: s.name, What: "the connection was lost while the change was being stored, and others have stored something since", Err: plain(lost), Fix: "try again; nothing was stored"}
		}
		s.Unlock()
		if ctx.Err() != nil || !isAway(err) {
			return false, gone
		}
	}
}

const (
	askAgainFor   = 30 * time.Second
	askAgainMost  = 2 * time.Minute // for a change that may wait: the server notices after 50 s that a network is gone
	askAgainAfter = 200 * time.Millisecond
)

// newID is a random UUID (RFC 9562 section 5.4).
func newID() string {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails
	b[6], b[8] = b[6]&0x0f|0x40, b[8]&0x3f|0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}

// Unlock rolls the database's transaction back, which gives up the lock.
func (s *session) Unlock() {
	if s.tx == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	_ = s.tx.Rollback(ctx) // a lost connection has rolled back
	s.tx = nil
}

// Close leaves the database.
func (s *session) Close() error {
	s.Unlock()
	if s.conn == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	_ = s.conn.Close(ctx) // nothing is left to be stored
	s.conn = nil
	return nil
}
