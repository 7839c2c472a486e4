package spread

import (
	"context"
	"errors"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
)

// explain puts a database's error into words and says what to do. The text of a connection error is
// cut down: it may hold the address.
func explain(err error) (why, fix string) {
	if errors.Is(err, errNoQueue) {
		return "nothing was queued in it yet", "queue a survey with gradeline survey --spread"
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		if e, ok := byCode[pg.Code]; ok {
			return e[0], e[1]
		}
		return pg.Message, "see the server's log"
	}
	var connect *pgconn.ConnectError
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		return "the database does not answer", "check the network and the server"
	case errors.As(err, &connect), isNetwork(err):
		return "no connection to the database (" + lastPart(err) + ")", "check that the server runs and that its address is right"
	}
	return err.Error(), "try again"
}

// byCode are the errors of PostgreSQL that users meet, by SQLSTATE (its manual, appendix A).
var byCode = map[string][2]string{
	"28P01": {"the password is wrong", "set it in ~/.pgpass or PGPASSWORD"},
	"28000": {"this user may not connect", "check the user of the address and the server's pg_hba.conf"},
	"3D000": {"there is no such database", "create it with createdb, or check the address"},
	"3F000": {"it has no queue of surveys", "queue a survey with gradeline survey --spread"},
	"42501": {"this database user lacks a right", "grant what gradeline work --grants ROLE prints"},
	"25006": {"the database is read-only", "use the primary server's address"},
	"53100": {"the database's disk is full", "make room on the server; the jobs go on by themselves"},
	"53200": {"the database is out of memory", "allow the server more memory, or use fewer workers"},
	"53300": {"the database has too many connections", "raise max_connections, or use fewer workers"},
	"57P01": {"the database was shut down", "start the server; the jobs go on by themselves"},
	"57P02": {"the database crashed", "start the server; the jobs go on by themselves"},
	"57P03": {"the database is starting up", "wait a moment"},
}

func isNetwork(err error) bool {
	var n *net.OpError // not net.Error, which an error of a file satisfies too
	return errors.As(err, &n) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, net.ErrClosed) || strings.Contains(err.Error(), "conn closed")
}

// errAway is the kind of faults of a database that does not answer and may do so later.
var errAway = errors.New("the database is away")

// isLost reports whether an error is of the connection or of a server that comes and goes, so that
// the same may work later. What was in work is then done again as a new transaction.
func isLost(err error) bool {
	if errors.Is(err, errAway) {
		return true
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return strings.HasPrefix(pg.Code, "57P") || strings.HasPrefix(pg.Code, "08") || strings.HasPrefix(pg.Code, "53")
	}
	var connect *pgconn.ConnectError
	return errors.As(err, &connect) || isNetwork(err) || errors.Is(err, context.DeadlineExceeded)
}

// lastPart is the innermost text of an error.
func lastPart(err error) string {
	for {
		inner := errors.Unwrap(err)
		if inner == nil {
			text := err.Error()
			if i := strings.LastIndex(text, ": "); i >= 0 {
				text = text[i+2:]
			}
			return text
		}
		err = inner
	}
}
