package network

import (
	"cmp"
	"context"
	"errors"
	"iter"
	"slices"
	"strings"

	"gradeline/routes"
	"gradeline/routes/stationing"
	"gradeline/routes/vector"
)

// Options of Read.
type Options struct {
	vector.Options
	AsDrawn bool // each line is a route, unless lines share a route property
}

// Summary describes the result of Read. It is complete when all routes have been yielded.
type Summary struct {
	WaysIn     int // lines read
	RoutesOut  int
	Joined     bool // some lines were joined as a network
	LeftOut    []LeftOut
	Extracts   []routes.Extract
	Skipped    []routes.Skipped
	Unbridged  []string // files of a network without any tag of a bridge or a tunnel
	features   []routes.Feature
	turns      []routes.Turn
	structures map[string]bool // files with such tags
	onward     *onwardIndex
	mark       uint64
}

// Warnings are the warnings about the files, each once.
func (s *Summary) Warnings() []string {
	var out []string
	for _, file := range s.Unbridged {
		out = append(out, file+": no line has a bridge or tunnel tag: where a road leaves the ground, the terrain below or above is not the road; use a format that keeps these tags, or an extract itself")
	}
	return out
}

// Read yields the routes of some files. Lines that share a route property and meet
// are one route. Of the others, those that share an end with another line, and all
// lines of an OpenStreetMap extract, are joined into through roads (see Through), the
// longest first; the rest are routes as drawn and are yielded without being kept in memory.
func Read(ctx context.Context, files []string, o Options) (iter.Seq2[routes.Route, error], *Summary) {
	s := &Summary{structures: map[string]bool{}}
	return func(yield func(routes.Route, error) bool) {
		if err := s.read(ctx, files, o, yield); err != nil && !errors.Is(err, errEnough) {
			yield(routes.Route{}, err)
		}
	}, s
}

// errEnough ends the reading when the caller wants no more routes.
var errEnough = errors.New("no more routes are wanted")

func (s *Summary) read(ctx context.Context, files []string, o Options, yield func(routes.Route, error) bool) error {
	shared := endCounts{}
	if !o.AsDrawn {
		for _, file := range files {
			if err := shared.count(ctx, file, o.Options); err != nil {
				return err
			}
		}
	}
	give := func(list []routes.Route) error {
		for _, r := range list {
			s.RoutesOut++
			if !yield(r, nil) {
				return errEnough
			}
		}
		return nil
	}
	var a stationing.Assembler // one for all files: a road may be split over several
	defer func() { s.Skipped = append(s.Skipped, a.Skipped()...) }()
	take := func(parts []routes.Feature, isExtract bool) error {
		if !o.AsDrawn && (isExtract || shared.isShared(parts)) {
			s.features = append(s.features, parts...)
			return nil
		}
		for _, f := range parts {
			if err := give(a.Add(f)); err != nil {
				return err
			}
		}
		return nil
	}
	for _, file := range files {
		if err := s.readFile(ctx, file, o.Options, take); err != nil {
			return err
		}
	}
	if err := give(a.Finish()); err != nil {
		return err
	}
	if len(s.features) == 0 {
		return nil
	}
	s.Joined = true
	s.tellUnbridged()
	roads, left, notes, all, j := through(s.features)
	s.onward, s.mark = newOnwardIndex(all, j, s.turns), markOf(all)
	s.LeftOut = left
	s.Skipped = append(s.Skipped, notes...)
	slices.SortStableFunc(roads, func(a, b routes.Route) int { return cmp.Compare(b.LengthM, a.LengthM) }) // long roads give the heights of the nodes
	return give(roads)
}

// readFile passes on the lines of one file, with the parts of a feature together.
func (s *Summary) readFile(ctx context.Context, file string, o vector.Options, take func(parts []routes.Feature, isExtract bool) error) error {
	isExtract := vector.IsExtract(file)
	o.OnTurn = func(t routes.Turn) { s.turns = append(s.turns, t) }
	o.OnExtract = func(e routes.Extract) { s.Extracts = append(s.Extracts, e) }
	var parts []routes.Feature
	flush := func() error {
		if len(parts) == 0 {
			return nil
		}
		err := take(parts, isExtract)
		parts = nil
		return err
	}
	skipped, err := vector.Read(ctx, file, o, func(f routes.Feature) error {
		s.WaysIn++
		if !s.structures[file] && hasStructureTag(&f) {
			s.structures[file] = true
		}
		if len(parts) > 0 && parts[0].Place != f.Place {
			if err := flush(); err != nil {
				return err
			}
		}
		parts = append(parts, f)
		return nil
	})
	s.Skipped = append(s.Skipped, skipped...)
	if err == nil {
		err = flush()
	}
	return err
}

func hasStructureTag(f *routes.Feature) bool {
	_, hasBridge := f.Tags["bridge"]
	_, hasTunnel := f.Tags["tunnel"]
	_, hasLayer := f.Tags["layer"]
	return hasBridge || hasTunnel || hasLayer || len(f.Structures) > 0
}

// tellUnbridged names the files of the network without any bridge or tunnel tag.
func (s *Summary) tellUnbridged() {
	told := map[string]bool{}
	for i := range s.features {
		file := s.features[i].Place.File
		if !told[file] && !s.structures[file] && !s.features[i].Place.IsWay {
			told[file] = true
			s.Unbridged = append(s.Unbridged, file)
		}
	}
}

// endCounts counts how many features end at a place. It needs some 20 bytes for each line, so that
// single lines need not be kept in memory.
type endCounts map[[2]int32]endCount

type endCount struct {
	first  routes.Place
	isMany bool
}

// count reads the ends of a file's lines. Standard input and remote files can't be
// read twice, and an extract is kept in memory anyway.
func (c endCounts) count(ctx context.Context, file string, o vector.Options) error {
	if file == "-" || strings.Contains(file, "://") || strings.HasPrefix(file, "/vsi") || vector.IsExtract(file) {
		return nil
	}
	_, err := vector.Read(ctx, file, o, func(f routes.Feature) error {
		if f.Tags["route"] != "" || len(f.Line) < 2 {
			return nil
		}
		for _, p := range []int{0, len(f.Line) - 1} {
			key := placeKey(f.Line[p])
			e, ok := c[key]
			if !ok {
				e.first = f.Place
			}
			e.isMany = e.isMany || e.first != f.Place
			c[key] = e
		}
		return nil
	})
	return err
}

// isShared reports whether the parts of a feature end where another feature does.
func (c endCounts) isShared(parts []routes.Feature) bool {
	for _, f := range parts {
		if f.Tags["route"] != "" || len(f.Line) < 2 {
			return false
		}
		for _, p := range []int{0, len(f.Line) - 1} {
			if c[placeKey(f.Line[p])].isMany {
				return true
			}
		}
	}
	return false
}

// Collect reads all lines of some files and the turn rules of extracts, for a graph.
func Collect(ctx context.Context, files []string, o vector.Options) ([]routes.Feature, []routes.Turn, *Summary, error) {
	s := &Summary{structures: map[string]bool{}}
	for _, file := range files {
		err := s.readFile(ctx, file, o, func(parts []routes.Feature, _ bool) error {
			s.features = append(s.features, parts...)
			return nil
		})
		if err != nil {
			return nil, nil, s, err
		}
	}
	s.tellUnbridged()
	return s.features, s.turns, s, nil
}
