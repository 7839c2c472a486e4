package vector

import (
	"bytes"
	"compress/bzip2"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// An OpenStreetMap extract is read twice: ways and turn restrictions first, then
// the places of the nodes that the ways kept refer to. So memory grows with the
// roads kept and not with the file.

// osmFormat is how an extract is written.
type osmFormat uint8

const (
	notOSM osmFormat = iota
	osmPBF
	osmXML
	osmBzip2
)

// formatOfOSM detects the format by content; the name decides only where the content is damaged.
func formatOfOSM(path string, head []byte) osmFormat {
	name := strings.ToLower(filepath.Base(path))
	switch {
	case len(head) > 16 && bytes.Contains(head[4:], []byte("\x0a\x09OSMHeader")), strings.HasSuffix(name, ".osm.pbf"), strings.HasSuffix(name, ".pbf"):
		return osmPBF
	case bytes.HasPrefix(head, []byte("BZh")), strings.HasSuffix(name, ".osm.bz2"):
		return osmBzip2
	case bytes.Contains(head, []byte("<osm")), strings.HasSuffix(name, ".osm"):
		return osmXML
	}
	return notOSM
}

// isOSMChange reports whether a file lists changes of OpenStreetMap's data: also roads that were
// deleted, and older states of others.
func isOSMChange(head []byte) bool {
	return bytes.Contains(head, []byte("<osmChange")) || bytes.Contains(head, []byte("<osm")) && bytes.Contains(head, []byte("<action type="))
}

// IsExtract reports whether a file is an OpenStreetMap extract.
func IsExtract(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, 512)
	n, _ := io.ReadFull(f, head) // a short file has a short header
	return n > 0 && formatOfOSM(path, head[:n]) != notOSM
}

// osmReader is the state shared by both passes.
type osmReader struct {
	path   string
	format osmFormat
	opts   Options
	roads  map[string]bool
	ways   []osmWay
	seen   map[int64]bool // numbers of the ways kept
	turns  []osmTurn
	nodes  nodeTable
	counts osmCounts
	newest time.Time
	info   routes.Extract
	// hasNodes and hasOthers record the content of each block of a PBF file, so that the second
	// pass decompresses only blocks with nodes.
	hasNodes []bool
}

type osmWay struct {
	id   int64
	refs []int64
	tags map[string]string
}

// readOSM reads an extract's roads.
func readOSM(ctx context.Context, path string, format osmFormat, opts Options, fn func(routes.Feature) error) ([]routes.Skipped, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, openFault(path, err)
	}
	defer f.Close()
	roads, err := roadClasses(opts.Roads)
	if err != nil {
		return nil, err
	}
	if err := checkBox(opts.Box); err != nil {
		return nil, err
	}
	r := &osmReader{path: path, format: format, opts: opts, roads: roads, seen: map[int64]bool{}}
	r.info = routes.Extract{File: path, Licence: routes.OSMCredit}
	if err := r.scan(ctx, f, wantWays); err != nil {
		return r.counts.list(path), err
	}
	if len(r.ways) == 0 {
		return r.counts.list(path), r.noRoad()
	}
	r.nodes.want(r.ways)
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, &routes.Fault{Kind: terrain.ErrRead, File: path, What: "cannot be read a second time", Err: err, Fix: "save it as a file first"}
	}
	if err := r.scan(ctx, f, wantNodes); err != nil {
		return r.counts.list(path), err
	}
	lines, err := r.emit(fn)
	if err == nil && lines == 0 {
		err = &routes.Fault{Kind: terrain.ErrInput, File: path, What: r.nothingLeft(), Fix: "check --box, and that the extract holds the nodes of its ways"}
	}
	if err != nil {
		return r.counts.list(path), err
	}
	r.tellTurns()
	if opts.OnExtract != nil {
		if r.info.AsOf == "" && !r.newest.IsZero() {
			r.info.AsOf = r.newest.UTC().Format(time.RFC3339)
		}
		opts.OnExtract(r.info)
	}
	return r.counts.list(path), nil
}

func (r *osmReader) nothingLeft() string {
	if r.opts.Box != nil {
		return fmt.Sprintf("none of its %d roads is in the box", len(r.ways))
	}
	return fmt.Sprintf("none of its %d roads has two nodes that the file holds", len(r.ways))
}

func (r *osmReader) noRoad() error {
	what := "there is no road of these classes in it: " + strings.Join(r.opts.roadNames(), ", ")
	if r.counts.otherRoads > 0 {
		what += fmt.Sprintf(" (%d roads of other classes)", r.counts.otherRoads)
	}
	return &routes.Fault{Kind: terrain.ErrInput, File: r.path, What: what, Fix: "name the classes that you want with --roads, or use another extract"}
}

// wanted says what a pass reads from the file.
type wanted uint8

const (
	wantWays wanted = iota // and restrictions
	wantNodes
)

func (r *osmReader) scan(ctx context.Context, f *os.File, want wanted) error {
	switch r.format {
	case osmPBF:
		return r.scanPBF(ctx, f, want)
	case osmBzip2:
		return r.scanXML(ctx, bzip2.NewReader(f), want)
	}
	return r.scanXML(ctx, f, want)
}

// addWay keeps a way that is a road of the classes wanted.
func (r *osmReader) addWay(id int64, tags map[string]string, refs []int64, at time.Time) error {
	highway := tags["highway"]
	if !r.roads[highway] {
		if highway != "" {
			r.counts.otherRoads++
		}
		return nil
	}
	switch {
	case tags["area"] == "yes":
		r.counts.add(areaWays, id)
		return nil
	case r.seen[id]:
		r.counts.add(repeatedWays, id)
		return nil
	case len(refs) < 2:
		r.counts.add(shortWays, id)
		return nil
	case len(refs) > r.opts.maxVertices():
		return &routes.Fault{Kind: terrain.ErrInput, File: r.path, Feature: fmt.Sprintf("way %d", id),
			What: fmt.Sprintf("it has %d nodes, more than %d", len(refs), r.opts.maxVertices()), Fix: "an OpenStreetMap way has at most 2,000: check the file"}
	}
	r.seen[id] = true
	implied(tags)
	if at.After(r.newest) {
		r.newest = at
	}
	r.ways = append(r.ways, osmWay{id: id, refs: append([]int64(nil), refs...), tags: tags})
	return nil
}

// emit passes on each way, in pieces where nodes are missing.
func (r *osmReader) emit(fn func(routes.Feature) error) (lines int, err error) {
	for i := range r.ways {
		w := &r.ways[i]
		parts, isWhole := r.nodes.parts(w.refs)
		if !isWhole {
			r.counts.add(missingNodes, w.id)
		}
		for _, p := range parts {
			if r.opts.Box != nil && !touches(r.opts.Box, p.line) {
				continue
			}
			err := fn(routes.Feature{Line: p.line, NodeIDs: p.ids, Tags: w.tags, WayID: fmt.Sprint(w.id),
				Place: routes.Place{File: r.path, Feature: int(w.id), IsWay: true}})
			if err != nil {
				return lines, err
			}
			lines++
		}
	}
	return lines, nil
}

// touches reports whether a vertex is in the box; roads are kept complete.
func touches(box *orb.Bound, line orb.LineString) bool {
	for _, p := range line {
		if box.Contains(p) {
			return true
		}
	}
	return false
}

func checkBox(b *orb.Bound) error {
	if b == nil || b.Min[0] < b.Max[0] && b.Min[1] < b.Max[1] && b.Min[0] >= -180 && b.Max[0] <= 180 && b.Min[1] >= -90 && b.Max[1] <= 90 {
		return nil
	}
	return &routes.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%g,%g,%g,%g is not a box", b.Min[0], b.Min[1], b.Max[0], b.Max[1]),
		Fix: boxFix}
}

// readFault is the fault of a file that ends or breaks at a place.
func (r *osmReader) readFault(where, what string, err error) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return &routes.Fault{Kind: terrain.ErrRead, File: r.path, Feature: where, What: what, Err: err, Fix: "the file is damaged or truncated: download it again and compare its checksum"}
}
