package survey

import (
	"context"
	"errors"
	"runtime"
	"strings"
	"testing"

	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/terrain"
)

func TestMemoryIsDividedBetweenWorkers(t *testing.T) {
	const m, cache = 1 << 20, 96 << 20
	processors := runtime.GOMAXPROCS(0)
	for _, c := range []struct {
		limit   int64
		workers int
		want    int // 0: refused
		says    string
	}{
		{0, 0, processors, ""},
		{0, 300, 300, ""},
		{207 * m, 0, 0, "allow 208 MiB"},
		{208 * m, 0, 1, ""},
		{208 * m, 2, 0, "allow 224 MiB, or use 1 workers"},
		{224 * m, 2, 2, ""},
		{96 << 30, 0, processors, ""},
	} {
		got, err := shareOf(c.limit, cache, c.workers)
		if c.want == 0 {
			if !errors.Is(err, terrain.ErrInput) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("limit %d, %d workers: %v", c.limit, c.workers, err)
			}
			continue
		}
		if err != nil || got.workers != c.want {
			t.Errorf("limit %d, %d workers: %+v, %v", c.limit, c.workers, got, err)
		}
		if c.limit > 0 && (got.windowBytes+cache+programBytes > c.limit || got.windowBytes < int64(got.workers)*workerBytes) {
			t.Errorf("limit %d: %+v is not within it", c.limit, got)
		}
	}
}

// A road that is longer than the limit allows is surveyed alone and named with what it needs.
func TestARoadTooLongForTheLimitIsNamed(t *testing.T) {
	const limit = 256 << 20
	s, err := shareOf(limit, 96<<20, 2)
	if err != nil {
		t.Fatal(err)
	}
	short, long := &routes.Route{ID: "short", LengthM: 200_000}, &routes.Route{ID: "long", LengthM: 2_000_000}
	if s.tooLong(short, limit) != "" || s.weight(short) >= s.windowBytes || s.tooLong(long, 0) != "" {
		t.Errorf("%q is within %d bytes", s.tooLong(short, limit), s.windowBytes)
	}
	if w := s.tooLong(long, limit); s.weight(long) != s.windowBytes || !strings.Contains(w, `"long" of 2000 km takes about 431 MiB`) || !strings.Contains(w, "allow 623 MiB") {
		t.Error(w)
	}
	if overLimit(limit, limit) != "" || overLimit(0, 1<<40) != "" || !strings.Contains(overLimit(limit, limit+1), "257 MiB") {
		t.Error(overLimit(limit, limit+1))
	}
	if n := peakBytes(); n < 4<<20 || n > 64<<30 {
		t.Errorf("this test took %d bytes", n)
	}
}

// A small window lets the routes through one after the other, all of them and in their order.
func TestResultsKeepOrderInLittleMemory(t *testing.T) {
	var list []routes.Route
	for i := range 40 {
		list = append(list, routes.Route{ID: string(rune('A' + i)), LengthM: float64(1+i%7) * 30_000})
	}
	each := func(yield func(routes.Route, error) bool) {
		for _, r := range list {
			if !yield(r, nil) {
				return
			}
		}
	}
	o := Options{Classes: []vehicle.Class{testClass(t)}, Workers: 3, MemoryBytes: 96<<20 + programBytes + 3*workerBytes}
	n := 0
	for r, err := range Results(context.Background(), drawnGround{}, each, o) {
		if err != nil || r.Route.ID != list[n].ID || r.Err == nil { // they have no line
			t.Fatalf("result %d is %q: %v, %v", n, r.Route.ID, err, r.Err)
		}
		n++
	}
	if n != len(list) {
		t.Errorf("%d of %d routes", n, len(list))
	}
}

func TestParseMemory(t *testing.T) {
	for text, want := range map[string]int64{"512MiB": 512 << 20, "2 GiB": 2 << 30, "1.5GB": 1_500_000_000, " 64MB ": 64_000_000} {
		if got, err := ParseMemory(text); err != nil || got != want {
			t.Errorf("%q: %d, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "512", "-1MiB", "0GB", "NaNMiB", "InfGB", "1e30GiB", "12 bananas"} {
		if got, err := ParseMemory(text); err == nil {
			t.Errorf("%q is read as %d", text, got)
		}
	}
}
