package answer

import (
	"context"
	"fmt"

	"gradeline/catalog/store"
)

// RouteGaps are the surveyed roads with unknown stretches, in words: a hill there may be missing
// from every list. route is an id, name or number, or "" for all roads.
func RouteGaps(ctx context.Context, cat *store.Catalog, route string) ([]string, error) {
	rs, err := cat.Routes(ctx)
	if err != nil {
		return nil, err
	}
	out := []string{}
	for _, r := range rs {
		if route != "" && route != r.ID && route != r.Name && route != r.Ref {
			continue
		}
		if !r.Reliable {
			out = append(out, fmt.Sprintf("%s: unreliable: %s", r.ID, r.Unreliable))
		}
		if r.MissingM > 0.5 {
			out = append(out, fmt.Sprintf("%s: %.0f m have no known ground", r.ID, r.MissingM))
		}
	}
	return out, nil
}
