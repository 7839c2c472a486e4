package spread

import (
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"
)

// Every route is in one batch; no batch of several routes is longer than batchM, none crosses into
// another tile when it is long enough; the order of the routes does not matter.
func TestBatchesHoldEveryRouteOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []placedRoute
		cell := map[int32]uint64{}
		for seq := range int32(rapid.IntRange(0, 300).Draw(t, "routes")) {
			p := orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-90, 90).Draw(t, "lat")}
			if rapid.Bool().Draw(t, "is near") {
				p = orb.Point{7 + p[0]/180, 46 + p[1]/90}
			}
			list = append(list, placedRoute{seq: seq, lengthM: rapid.Float32Range(1, 300_000).Draw(t, "length"), cell: cellOf(p)})
			cell[seq] = cellOf(p)
		}
		shuffled := rapid.Permutation(list).Draw(t, "order")
		got := batchesOf(slices.Clone(list), batchM)
		seen := map[int32]bool{}
		for _, b := range got {
			if len(b.seqs) == 0 || len(b.seqs) > 1 && b.lengthM > batchM {
				t.Fatalf("a batch of %d routes and %.0f m", len(b.seqs), b.lengthM)
			}
			soFarM := 0.0
			for i, seq := range b.seqs {
				if seen[seq] {
					t.Fatalf("route %d is in two batches", seq)
				}
				seen[seq] = true
				if i > 0 && tileOf(cell[seq]) != tileOf(cell[b.seqs[i-1]]) && soFarM >= leastM {
					t.Fatalf("a batch goes on into another tile after %.0f m", soFarM)
				}
				soFarM += float64(list[seq].lengthM)
			}
		}
		if len(seen) != len(list) {
			t.Fatalf("%d of %d routes are in batches", len(seen), len(list))
		}
		if !slices.EqualFunc(got, batchesOf(shuffled, batchM), func(a, b batch) bool { return slices.Equal(a.seqs, b.seqs) }) {
			t.Fatal("the order of the routes matters")
		}
	})
}

// Two roads of one tile have the same tile, those of two tiles have not.
func TestTiles(t *testing.T) {
	a, b, other := cellOf(orb.Point{7.01, 46.02}), cellOf(orb.Point{7.98, 46.97}), cellOf(orb.Point{8.01, 46.02})
	if tileOf(a) != tileOf(b) || tileOf(a) == tileOf(other) || a == b {
		t.Fatalf("tiles %x %x %x", tileOf(a), tileOf(b), tileOf(other))
	}
}
