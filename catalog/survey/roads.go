package survey

import (
	"context"
	"iter"

	"gradeline/routes"
	"gradeline/routes/stationing"
	"gradeline/routes/vector"
)

// Roads reads the routes of road files. A road may be split over several files.
type Roads struct {
	lines   *vector.Reader
	skipped []routes.Skipped
}

// ReadRoads names the files ("-" is o.Stdin); nothing is opened before Routes is
// ranged over.
func ReadRoads(files []string, o vector.Options) *Roads {
	return &Roads{lines: vector.NewReader(files, o)}
}

// Routes yields the routes as their last piece is read; an error is the last that it
// yields. It may be ranged over once.
func (r *Roads) Routes(ctx context.Context) iter.Seq2[routes.Route, error] {
	return func(yield func(routes.Route, error) bool) {
		var joined stationing.Assembler
		defer func() { r.skipped = append(r.lines.Skipped(), joined.Skipped()...) }()
		for f, err := range r.lines.Features(ctx) {
			if err != nil {
				yield(routes.Route{}, err)
				return
			}
			for _, route := range joined.Add(f) {
				if !yield(route, nil) {
					return
				}
			}
		}
		for _, route := range joined.Finish() {
			if !yield(route, nil) {
				return
			}
		}
	}
}

// Skipped is what the files hold that made no route; complete when Routes has ended.
func (r *Roads) Skipped() []routes.Skipped { return r.skipped }
