package main

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"iter"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/store"
	"gradeline/routes"
	"gradeline/routes/vector"
)

// shard is one part of a network: whole routes, by their short names, so that it
// depends neither on the order of the files nor on where a road is cut into pieces.
// Routes that would have to share a short name are in one part, so that ids come out
// as they do in one run.
type shard struct {
	part, of uint64
	wanted   map[uint64]uint8 // how many lines ask for a short name, up to 2; by hash
}

const mostShards = 100000

// shardOf reads --shard and, where it is given, the route files once for their names.
func (s *session) shardOf(c *cli.Context, files []string) (*shard, error) {
	text := c.String("shard")
	if text == "" {
		return &shard{part: 1, of: 1}, nil
	}
	sh := &shard{wanted: map[uint64]uint8{}}
	var rest string
	if n, _ := fmt.Sscanf(text, "%d/%d%s", &sh.part, &sh.of, &rest); n != 2 || sh.part < 1 || sh.part > sh.of || sh.of > mostShards {
		return nil, usagef("--shard %q: give part and number of parts, as in 2/8", text)
	}
	if slices.Contains(files, "-") {
		return nil, usagef("--shard reads the routes twice; name a file instead of standard input")
	}
	o := vector.Options{Layer: c.String("layer"), AllowRemote: c.Bool("remote")}
	for _, file := range files {
		_, err := vector.Read(c.Context, file, o, func(f routes.Feature) error {
			sh.count(f.Tags)
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return sh, nil
}

// count notes the short names that a line's route may ask for.
func (sh *shard) count(tags map[string]string) {
	for _, key := range []string{"name", "ref", "route"} {
		if tags[key] != "" {
			h := hashOf((&store.Route{ID: tags[key]}).ShortName())
			sh.wanted[h] = min(2, sh.wanted[h]+1)
		}
	}
}

// only lets through the routes of the part.
func (sh *shard) only(list iter.Seq2[routes.Route, error]) iter.Seq2[routes.Route, error] {
	if sh.of == 1 {
		return list
	}
	return func(yield func(routes.Route, error) bool) {
		for r, err := range list {
			if (err != nil || sh.has(&r)) && !yield(r, err) {
				return
			}
		}
	}
}

// has tells whether a route is in the part.
func (sh *shard) has(r *routes.Route) bool {
	road := store.Route{ID: r.ID, Name: r.Name, Ref: r.Ref}
	return hashOf(sh.family(road.ShortName()))%sh.of == sh.part-1
}

// family is the short name that stands for all that may come to be the same: "a-2" may
// be asked for, or be what the second route that asks for "a" gets, and then whoever
// asks for "a-2" gets "a-2-2", and so on.
func (sh *shard) family(name string) string {
	out := name
	for {
		i := strings.LastIndexByte(name, '-')
		if i < 1 || i+1 == len(name) || strings.Trim(name[i+1:], "0123456789") != "" {
			return out
		}
		if name = name[:i]; sh.wanted[hashOf(name)] >= 2 {
			out = name
		}
	}
}

// tellsOfReading is true for the one part that names what the files hold besides
// routes, so that it is said once.
func (sh *shard) tellsOfReading() bool { return sh.part == 1 }

func hashOf(name string) uint64 {
	h := sha256.Sum256([]byte(name))
	return binary.LittleEndian.Uint64(h[:])
}
