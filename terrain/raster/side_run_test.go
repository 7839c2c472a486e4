package raster

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"gradeline/terrain"
)

// sideChild makes this test binary a whole process of its own for the comparison:
// "sample" and "decode", see sideChildren.
const sideChild = "RASTER_SIDE_CHILD"

// asSideChild does what the environment asks and reports whether it asked.
func asSideChild() bool {
	what := os.Getenv(sideChild)
	if what == "" {
		return false
	}
	a := os.Args[1:]
	workers, err := strconv.Atoi(a[len(a)-1])
	if err == nil {
		switch what {
		case "sample":
			err = childSample(a[0], a[1], a[2], workers)
		case "decode":
			err = childDecode(a[0], a[1], a[2], workers)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	return true
}

func readPoints(path string) ([]terrain.Point, error) {
	raw, err := os.ReadFile(path)
	pts := make([]terrain.Point, len(raw)/16)
	for i := range pts {
		pts[i].LonDeg = math.Float64frombits(binary.LittleEndian.Uint64(raw[16*i:]))
		pts[i].LatDeg = math.Float64frombits(binary.LittleEndian.Uint64(raw[16*i+8:]))
	}
	return pts, err
}

func writeHeights(path string, v []float64) error {
	raw := make([]byte, 0, 8*len(v))
	for _, z := range v {
		raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(z))
	}
	return os.WriteFile(path, raw, 0o644)
}

// pointsOver opens a raster or folder, and reads the points that are asked for.
func pointsOver(path, points string, workers int) (*Surface, []terrain.Point, error) {
	pts, err := readPoints(points)
	if err != nil {
		return nil, nil, err
	}
	s, err := Open(context.Background(), []string{path}, Options{Workers: workers})
	return s, pts, err
}

// childSample is our sampler as a program: points in, heights out.
func childSample(path, points, out string, workers int) error {
	s, pts, err := pointsOver(path, points, workers)
	if err != nil {
		return err
	}
	defer s.Close()
	got := make([]terrain.Sample, len(pts))
	if err := s.Sample(context.Background(), pts, got); err != nil {
		return err
	}
	heights := make([]float64, len(got))
	for i := range got {
		heights[i] = got[i].ElevationM
	}
	return writeHeights(out, heights)
}

// childDecode is GDAL's decode of the blocks that the points touch, and nothing else
// but reading the points and a sum over the cells. Which blocks those are comes from
// the sampler's own grid, worked out without reading any.
func childDecode(path, points, out string, workers int) error {
	s, pts, err := pointsOver(path, points, workers)
	if err != nil {
		return err
	}
	defer s.Close()
	keys := s.touched(pts)
	var next atomic.Int64
	sums := make([]float64, len(keys))
	var failed atomic.Pointer[error]
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			var buf []float32
			open := map[*tile]*handle{}
			for {
				n := int(next.Add(1)) - 1
				if n >= len(keys) {
					break
				}
				t := s.tiles[keys[n]>>32]
				hd := open[t]
				if hd == nil {
					for _, old := range open { // one at a time is enough: the keys are in order
						old.ds.Close()
					}
					clear(open)
					ds, err := openDataset(t.path, false, openConfig, func(string) {})
					if err != nil {
						failed.Store(&err)
						return
					}
					hd = &handle{ds: ds, band: ds.Bands()[0]}
					open[t] = hd
				}
				c, r, w, h := t.window(int64(uint32(keys[n])))
				buf = slices.Grow(buf[:0], int(w*h))[:w*h]
				if err := hd.band.Read(int(c), int(r), buf, int(w), int(h)); err != nil {
					failed.Store(&err)
					return
				}
				sums[n] = float64(buf[0]) + float64(buf[len(buf)-1])
			}
			for _, hd := range open {
				hd.ds.Close()
			}
		})
	}
	wg.Wait()
	if err := failed.Load(); err != nil {
		return *err
	}
	return writeHeights(out, append(sums, float64(len(keys))))
}

// touched lists the blocks that hold the points' own cells, in order.
func (s *Surface) touched(pts []terrain.Point) []uint64 {
	sc := new(scratch)
	seen := map[uint64]bool{}
	for _, l := range s.layers {
		sc.idx = sc.idx[:0]
		for i := range pts {
			sc.idx = append(sc.idx, int32(i))
		}
		sc.resize(len(pts))
		l.project(pts, sc)
		sc.runs, sc.taps, sc.edges = sc.runs[:0], sc.taps[:0], sc.edges[:0]
		s.locate(l, sc)
		for _, r := range sc.runs {
			seen[r.key] = true
		}
		for _, t := range sc.taps {
			seen[t.key] = true
		}
	}
	var keys []uint64
	for k := range seen {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// took is what one process cost.
type took struct {
	seconds, cpuSeconds, peakMB float64
	values                      []float64
	text                        string
}

// runSide runs a program and reads the heights that it left in out, if any.
func runSide(b testing.TB, out, stdin string, env []string, name string, args ...string) took {
	b.Helper()
	// The peak that the system keeps for a process starts with that of the one it was
	// forked from: a small one in between asks for it.
	peak := filepath.Join(b.TempDir(), "peak")
	cmd := exec.Command("/usr/bin/time", append([]string{"-q", "-f", "%M", "-o", peak, name}, args...)...)
	cmd.Env = append(os.Environ(), env...)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	if stdin != "" {
		f, err := os.Open(stdin)
		if err != nil {
			b.Fatal(err)
		}
		defer f.Close()
		cmd.Stdin = f
	}
	begun := time.Now()
	err := cmd.Run()
	t := took{seconds: time.Since(begun).Seconds(), text: stdout.String()}
	if cmd.ProcessState == nil || err != nil && cmd.ProcessState.ExitCode() != 3 { // 3: done, with gaps
		b.Fatalf("%s %q: %v\n%s", name, args, err, stderr.String())
	}
	use := cmd.ProcessState.SysUsage().(*syscall.Rusage)
	t.cpuSeconds = float64(use.Utime.Nano()+use.Stime.Nano()) / 1e9
	kib, err := os.ReadFile(peak)
	if err != nil {
		b.Fatal(err)
	}
	t.peakMB = fields(b, string(kib))[0] / 1024
	if out != "" {
		raw, err := os.ReadFile(out)
		if err != nil {
			b.Fatal(err)
		}
		for i := 0; i+8 <= len(raw); i += 8 {
			t.values = append(t.values, math.Float64frombits(binary.LittleEndian.Uint64(raw[i:])))
		}
		os.Remove(out)
	}
	return t
}

// tool runs a program that must succeed.
func tool(b testing.TB, name string, args ...string) {
	b.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		b.Fatalf("%s: %v\n%s", name, err, out)
	}
}

// fields reads one number a line.
func fields(b testing.TB, text string) []float64 {
	b.Helper()
	var out []float64
	for _, f := range strings.Fields(text) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			b.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

func peer(script string) string { return filepath.Join("testdata", "peers", script) }

// self is this test binary.
func self() string {
	path, err := os.Executable()
	if err != nil {
		panic(err)
	}
	return path
}
