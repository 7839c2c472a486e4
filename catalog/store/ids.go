package store

import (
	"database/sql"
	"fmt"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// findDescent resolves an id or its beginning.
func findDescent(q gpkg.Querier, path, id string) (fid int64, full string, err error) {
	want := strings.ToLower(strings.TrimSpace(id))
	type match struct {
		fid int64
		id  string
	}
	var found []match
	// "\x7f" sorts after every character that an id can hold.
	err = gpkg.Each(q, func(rows *sql.Rows) error {
		var m match
		if err := rows.Scan(&m.fid, &m.id); err != nil {
			return err
		}
		found = append(found, m)
		return nil
	}, "SELECT fid, id FROM descents WHERE id >= ? AND id < ? ORDER BY id LIMIT 6", want, want+"\x7f")
	if err != nil {
		return 0, "", err
	}
	if want != "" && len(found) > 0 && (len(found) == 1 || found[0].id == want) {
		return found[0].fid, found[0].id, nil
	}
	f := &Fault{Kind: catalog.ErrNotFound, File: path, What: fmt.Sprintf("no descent %q", id), Fix: "list shows the ids"}
	if want != "" && len(found) > 1 {
		var ids []string
		for _, m := range found[:min(5, len(found))] {
			ids = append(ids, m.id)
		}
		f.What = fmt.Sprintf("%q begins the ids of several descents", id)
		f.Fix = "write one out: " + strings.Join(ids, ", ")
		return 0, "", f
	}
	near, err := nearIDs(q, want)
	if len(near) > 0 {
		f.Fix = "did you mean " + strings.Join(near, ", ") + "?"
	}
	if err != nil {
		return 0, "", err
	}
	return 0, "", f
}

// nearIDs returns up to three ids that differ least from the typed one, by no more than a third of
// its length.
func nearIDs(q gpkg.Querier, want string) ([]string, error) {
	if want == "" || len(want) > 200 {
		return nil, nil
	}
	limit := 1 + len(want)/3
	type near struct {
		id string
		d  int
	}
	var best []near
	err := gpkg.Each(q, func(rows *sql.Rows) error {
		var n near
		if err := rows.Scan(&n.id); err != nil {
			return err
		}
		if n.d = distance(want, n.id, limit); n.d > limit {
			return nil
		}
		best = append(best, n)
		sort.SliceStable(best, func(i, j int) bool { return best[i].d < best[j].d })
		best = best[:min(3, len(best))]
		return nil
	}, "SELECT id FROM descents ORDER BY id")
	var out []string
	for _, n := range best {
		out = append(out, n.id)
	}
	return out, err
}

// distance is the Levenshtein distance, at most limit+1.
func distance(a, b string, limit int) int {
	if len(a)-len(b) > limit || len(b)-len(a) > limit {
		return limit + 1
	}
	prev, cur := make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			same := 1
			if a[i-1] == b[j-1] {
				same = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+same)
		}
		prev, cur = cur, prev
	}
	return min(prev[len(b)], limit+1)
}
