package survey

import (
	"context"
	"slices"
	"strings"

	"gradeline/catalog/store"
)

// Queue is the catalogue's list of descents that need a look, with those that its drives contradict:
// their grade, the line, a structure that nothing names, or a grade sign. Descents that need a look for
// that alone come last.
func Queue(ctx context.Context, cat *store.Catalog) ([]store.QueueItem, error) {
	items, err := cat.Queue(ctx)
	if err != nil {
		return nil, err
	}
	list, err := SayAllDrives(ctx, cat)
	if err != nil {
		return nil, err
	}
	return AddToQueue(items, list), nil
}

// AddToQueue adds to a list of descents that need a look those that drives contradict.
func AddToQueue(items []store.QueueItem, list []DrivesSay) []store.QueueItem {
	for i := range list {
		say := &list[i]
		if !say.IsAgainst() {
			continue
		}
		k := slices.IndexFunc(items, func(it store.QueueItem) bool { return it.ID == say.Descent })
		if k < 0 {
			k = len(items)
			d := &say.entry.Descent
			items = append(items, store.QueueItem{ID: d.ID, Route: d.Route, Name: d.Name, State: say.entry.Review.State})
		}
		it := &items[k]
		it.Reasons = append(slices.Clone(it.Reasons), store.QueueDrives)
		told := it.Words
		if told != "" {
			it.Words += "; "
		}
		says := say.Words()
		if say.ContradictsWhy != "" && strings.Contains(told, say.ContradictsWhy) { // it is the reason of the question
			says = slices.DeleteFunc(says, func(w string) bool { return strings.HasSuffix(w, say.ContradictsWhy) })
		}
		it.Words = strings.TrimSuffix(it.Words+"drives: "+strings.Join(says, "; "), "; drives: ")
	}
	return items
}
