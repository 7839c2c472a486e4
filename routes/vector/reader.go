package vector

import (
	"context"
	"errors"
	"iter"

	"gradeline/routes"
)

// Reader reads the road lines of several files, one after another.
type Reader struct {
	files   []string
	opts    Options
	skipped []routes.Skipped
}

// NewReader names the files; nothing is opened before Features is ranged over.
func NewReader(files []string, o Options) *Reader { return &Reader{files: files, opts: o} }

// Features yields the lines in file order, as Read does; an error is the last value. It may be
// ranged over once.
func (r *Reader) Features(ctx context.Context) iter.Seq2[routes.Feature, error] {
	return func(yield func(routes.Feature, error) bool) {
		enough := errors.New("the caller stopped the loop")
		for _, file := range r.files {
			skipped, err := Read(ctx, file, r.opts, func(f routes.Feature) error {
				if !yield(f, nil) {
					return enough
				}
				return nil
			})
			r.skipped = append(r.skipped, skipped...)
			switch {
			case errors.Is(err, enough):
				return
			case err != nil:
				yield(routes.Feature{}, err)
				return
			}
		}
	}
}

// Skipped lists the features that made no line so far; complete after the last feature.
func (r *Reader) Skipped() []routes.Skipped { return r.skipped }
