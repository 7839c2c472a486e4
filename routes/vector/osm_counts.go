package vector

import (
	"fmt"

	"gradeline/routes"
)

// miss is a kind of object in an extract that was not used unchanged.
type miss int

const (
	missingNodes miss = iota
	repeatedWays
	shortWays
	areaWays
	repeatedNodes
	nodesOut
	oddTurns
	missKinds
)

var missWords = [missKinds]string{
	missingNodes:  "nodes of it are not in the file or have no place: the way is cut there",
	repeatedWays:  "the number occurs more than once: the first is used",
	shortWays:     "it has fewer than two nodes",
	areaWays:      "an area (area=yes), not a line to travel",
	repeatedNodes: "the number occurs more than once with different places: the first is used",
	nodesOut:      "its place is not a longitude and latitude: treated as missing",
	oddTurns:      "a turn restriction that is incomplete or not understood: not used",
}

var missOf = [missKinds]string{"way", "way", "way", "way", "node", "node", "relation"}

// osmCounts counts unused objects.
type osmCounts struct {
	n          [missKinds]int
	first      [missKinds]int64
	otherRoads int
}

func (c *osmCounts) add(k miss, id int64) {
	if c.n[k]++; c.n[k] == 1 {
		c.first[k] = id
	}
}

// list is one line for each kind.
func (c *osmCounts) list(path string) []routes.Skipped {
	var out []routes.Skipped
	for k, n := range c.n {
		if n == 0 {
			continue
		}
		where := fmt.Sprintf("%s, %s %d", path, missOf[k], c.first[k])
		if n > 1 {
			where += fmt.Sprintf(" and %d more", n-1)
		}
		out = append(out, routes.Skipped{Where: where, Why: missWords[k]})
	}
	return out
}
