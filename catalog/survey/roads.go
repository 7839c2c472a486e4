package survey

import (
	"context"
	"iter"

	"gradeline/routes"
	"gradeline/routes/network"
)

// Roads reads the routes of road files. A road may be split over several files; lines
// that make a network are joined into through roads.
type Roads struct {
	files   []string
	options network.Options
	summary *network.Summary
}

// ReadRoads names the files ("-" is o.Stdin); nothing is opened before Routes is
// ranged over.
func ReadRoads(files []string, o network.Options) *Roads {
	return &Roads{files: files, options: o, summary: &network.Summary{}}
}

// Routes yields the routes: single ones when their last piece is read, those of a network when
// everything is read. An error is the last that it yields. It may be ranged over once.
func (r *Roads) Routes(ctx context.Context) iter.Seq2[routes.Route, error] {
	list, summary := network.Read(ctx, r.files, r.options)
	r.summary = summary
	return list
}

// Skipped lists the features that made no route; complete when Routes has ended.
func (r *Roads) Skipped() []routes.Skipped { return r.summary.Skipped }

// mark is 0 for routes outside a network, otherwise it changes with the network.
func (r *Roads) mark() uint64 { return r.summary.Mark() }

// IsJoined reports whether the route that was yielded last is a road of a joined network.
func (r *Roads) IsJoined() bool { return r.mark() != 0 }

// Network sums up the lines read and joined; complete when Routes has ended.
func (r *Roads) Network() *network.Summary { return r.summary }
