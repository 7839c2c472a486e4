package answer

import (
	"context"
	"encoding/json"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/whatif"
	"gradeline/catalog/wording"
)

// GradeLineOf is a descent's own grade line, to try other trucks on. Where a newer, harder survey
// waits for a decision, the line is that survey's, as on the driver's page.
func GradeLineOf(ctx context.Context, cat *store.Catalog, e *catalog.Entry) (*whatif.GradeLine, error) {
	for _, id := range wording.Classes([]catalog.Entry{*e}) {
		newer, line, err := cat.Harsher(ctx, e, id)
		if err != nil {
			return nil, err
		}
		if newer != nil {
			return whatif.NewGradeLine(line, newer), nil
		}
	}
	p, err := storedLine(ctx, cat, e)
	if err != nil {
		return nil, err
	}
	return whatif.NewGradeLine(p, e), nil
}

// gradeLineJSON is the line for a page that answers offline.
func gradeLineJSON(ctx context.Context, cat *store.Catalog, e *catalog.Entry) ([]byte, error) {
	line, err := GradeLineOf(ctx, cat, e)
	if err != nil {
		return nil, err
	}
	return json.Marshal(line)
}
