package gpkg

import (
	"testing"
	"time"
)

func TestStampsAreUTCWithMilliseconds(t *testing.T) {
	got := Stamp(time.Date(2026, 1, 2, 3, 4, 5, 600, time.FixedZone("x", 3600)))
	if got != "2026-01-02T02:04:05.000Z" {
		t.Error(got)
	}
	if Version() < "3.4" {
		t.Error(Version())
	}
}
