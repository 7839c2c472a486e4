package answer

import (
	"context"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
)

// OpenCatalog opens a catalogue so that advice for a class that has changed since is in question.
// classes are the current ones.
func OpenCatalog(ctx context.Context, path string, o store.Options, classes []vehicle.Class) (*store.Catalog, error) {
	cat, err := store.Open(ctx, path, o)
	if err != nil {
		return nil, err
	}
	now := vehicle.AdviceMarks(classes)
	cat.QuestionHolds(func(holds []catalog.Hold) string { return vehicle.WhyAnyStale(holds, now) })
	return cat, nil
}
