package store

import (
	"testing"
	"time"
)

// SQLite's own handler asks again at least every 100 ms, so a lock that was free for 250 ms has been
// everyone's to take: after that, or before a second of holding it, a survey does not pause.
func TestASurveyPausesOnlyWhereOthersHadNoTurn(t *testing.T) {
	const ms = time.Millisecond
	for _, c := range []struct{ held, free, want time.Duration }{
		{0, 0, 0},
		{999 * ms, 0, 0},
		{1000 * ms, 0, 250 * ms},
		{3000 * ms, 100 * ms, 150 * ms},
		{3000 * ms, 250 * ms, 0},
		{3000 * ms, time.Hour, 0},
	} {
		if got := othersPause(c.held, c.free); got != c.want {
			t.Errorf("held %v, free %v: a pause of %v, want %v", c.held, c.free, got, c.want)
		}
	}
}
