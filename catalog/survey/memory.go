package survey

import (
	"fmt"
	"math"
	"runtime"
	"strconv"
	"strings"
	"syscall"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// What a survey holds in memory grows with the length of the roads that are in work and of the
// results that wait for an earlier one. Measured on a two-core machine with routes of 20 to 400 km:
// 140 to 200 kB a km while a route is in work, 13 kB a km for its result with JSON text of as much
// again; the program with GDAL, PROJ and SQLite 90 MB.
const (
	programBytes  = 96 << 20
	workBytesAKm  = 220 << 10
	keptBytesAKm  = 30 << 10 // of a result that waits for an earlier one
	libraryBytes  = 56 << 20 // of programBytes: what is not Go's
	routeBytes    = 1 << 20  // of any route, however short
	keptBytes     = 256 << 10
	workerBytes   = 16 << 20 // least share of a worker: a road of 70 km
	windowAWorker = 64 << 20 // share of a worker where no limit is set
)

// share is how a survey divides its memory.
type share struct {
	workers     int
	windowBytes int64 // for routes in work and results that wait
}

// shareOf divides a limit (0: none) between workers (0: as many as there are processors, or fewer
// where the limit asks for it). cacheBytes are those of the decoded blocks of the terrain.
func shareOf(limitBytes, cacheBytes int64, workers int) (share, error) {
	if cacheBytes <= 0 {
		cacheBytes = raster.DefaultCacheBytes
	}
	wanted := workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	if limitBytes <= 0 {
		return share{workers, int64(workers) * windowAWorker}, nil
	}
	left := limitBytes - programBytes - cacheBytes
	fit := int(left / workerBytes)
	least := int64(programBytes+workerBytes) + cacheBytes
	switch {
	case fit < 1:
		return share{}, &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("a memory limit of %s is too small: the program needs %s, the cache of decoded blocks %s, each worker at least %s",
			mib(limitBytes), mib(programBytes), mib(cacheBytes), mib(workerBytes)), Fix: fmt.Sprintf("allow %s, or set a smaller --cache", mib(least))}
	case wanted > fit:
		return share{}, &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("a memory limit of %s has room for %d workers, not %d", mib(limitBytes), fit, wanted),
			Fix: fmt.Sprintf("allow %s, or use %d workers", mib(programBytes+cacheBytes+int64(wanted)*workerBytes), fit)}
	}
	return share{min(workers, fit), left}, nil
}

// words says how the memory is divided.
func (s share) words() string {
	return fmt.Sprintf("%d workers, %s each for the roads in work", s.workers, mib(s.windowBytes/int64(s.workers)))
}

// weight is the memory that a route takes, at most all that there is: a longer one is surveyed alone.
func (s share) weight(r *routes.Route) int64 {
	return min(bytesOf(r), s.windowBytes)
}

func bytesOf(r *routes.Route) int64 { return routeBytes + int64(r.LengthM/1000*workBytesAKm) }

// resultBytesOf is the memory of a route's result that waits for an earlier one.
func resultBytesOf(r *routes.Route) int64 { return keptBytes + int64(r.LengthM/1000*keptBytesAKm) }

// tooLong is a warning about a route that needs more memory than there is for it; empty where it does not.
func (s share) tooLong(r *routes.Route, limitBytes int64) string {
	if n := bytesOf(r); limitBytes > 0 && n > s.windowBytes {
		return fmt.Sprintf("route %q of %.0f km takes about %s by itself: the limit of %s is not kept; split the road, or allow %s",
			r.ID, r.LengthM/1000, mib(n), mib(limitBytes), mib(limitBytes-s.windowBytes+n))
	}
	return ""
}

func mib(n int64) string { return fmt.Sprintf("%d MiB", (n+1<<20-1)>>20) }

// HeapBytes is the part of a memory limit that is left for Go's own memory: without the cache of
// decoded blocks and the libraries in C.
func HeapBytes(limitBytes, cacheBytes int64) int64 {
	return max(workerBytes, limitBytes-cacheBytes-libraryBytes)
}

// ParseMemory reads an amount of memory, as in 512MiB or 2GiB.
func ParseMemory(text string) (int64, error) {
	units := []struct {
		name  string
		bytes float64
	}{{"MiB", 1 << 20}, {"GiB", 1 << 30}, {"MB", 1e6}, {"GB", 1e9}}
	for _, u := range units {
		number, ok := strings.CutSuffix(strings.TrimSpace(text), u.name)
		if !ok {
			continue
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		if err != nil || !(v > 0) || v*u.bytes > math.MaxInt64/2 {
			break
		}
		return int64(v * u.bytes), nil
	}
	return 0, fmt.Errorf("%q is not an amount of memory: write it as in 512MiB or 2GiB", text)
}

// peakBytes is the most memory that this process had so far.
func peakBytes() int64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	if runtime.GOOS == "darwin" {
		return u.Maxrss
	}
	return u.Maxrss << 10
}

// overLimit is a warning where the program took more memory than its limit; empty where it did not.
func overLimit(limitBytes, peakBytes int64) string {
	if limitBytes <= 0 || peakBytes <= limitBytes {
		return ""
	}
	return fmt.Sprintf("the survey took %s of memory at its most, over the limit of %s: use fewer --workers, a smaller --cache, or allow more", mib(peakBytes), mib(limitBytes))
}
