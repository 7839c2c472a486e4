package survey

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"

	"gradeline/catalog/store"
	"gradeline/routes"
	"gradeline/routes/vector"
)

// Part is one part of a network: complete routes, chosen by their short names. It depends
// neither on the order of the files nor on where a road is cut into pieces. Routes that
// compete for a short name are in one part, so that ids are the same as in a single run.
// The zero value is all of the network.
type Part struct {
	Number, Of uint64 // Number from 1 to Of
}

const mostParts = 100000

// ParsePart reads a part and the number of parts, as in "2/8".
func ParsePart(text string) (Part, error) {
	var p Part
	var rest string
	if n, _ := fmt.Sscanf(text, "%d/%d%s", &p.Number, &p.Of, &rest); n != 2 || p.Number < 1 || p.Number > p.Of || p.Of > mostParts {
		return Part{}, fmt.Errorf("%q: write part and number of parts, as in 2/8", text)
	}
	return p, nil
}

// String is "2/8"; empty for all of a network.
func (p Part) String() string {
	if p.Of == 0 {
		return ""
	}
	return fmt.Sprintf("%d/%d", p.Number, p.Of)
}

// isFirst is true for the one part that reports the features that made no route.
func (p Part) isFirst() bool { return p.Number <= 1 }

// partition decides which routes are in a part.
type partition struct {
	part   Part
	wanted map[uint64]uint8 // how many lines ask for a short name, up to 2; by hash
}

// newPartition reads the route files once for their names, where there are several parts.
func newPartition(ctx context.Context, part Part, files []string, o vector.Options) (*partition, error) {
	p := &partition{part: part, wanted: map[uint64]uint8{}}
	if part.Of <= 1 {
		return p, nil
	}
	for f, err := range vector.NewReader(files, o).Features(ctx) {
		if err != nil {
			return nil, err
		}
		p.countNames(f.Tags)
	}
	return p, nil
}

// countNames notes the short names that a line's route may ask for.
func (p *partition) countNames(tags map[string]string) {
	for _, key := range []string{"name", "ref", "route"} {
		if tags[key] != "" {
			h := hashOf((&store.RouteRecord{ID: tags[key]}).ShortName())
			p.wanted[h] = min(2, p.wanted[h]+1)
		}
	}
}

// has reports whether a route is in the part.
func (p *partition) has(r *routes.Route) bool {
	if p.part.Of <= 1 {
		return true
	}
	road := store.RouteRecord{ID: r.ID, Name: r.Name, Ref: r.Ref}
	return hashOf(p.family(road.ShortName()))%p.part.Of == p.part.Number-1
}

// family is one short name for all that may collide. A route may ask for "a-2", or get it as the
// second route that asks for "a"; then a route that asks for "a-2" gets "a-2-2", and so on.
func (p *partition) family(name string) string {
	out := name
	for {
		i := strings.LastIndexByte(name, '-')
		if i < 1 || i+1 == len(name) || strings.Trim(name[i+1:], "0123456789") != "" {
			return out
		}
		if name = name[:i]; p.wanted[hashOf(name)] >= 2 {
			out = name
		}
	}
}

func hashOf(name string) uint64 {
	h := sha256.Sum256([]byte(name))
	return binary.LittleEndian.Uint64(h[:])
}
