package resurvey

import (
	"regexp"
	"strings"
)

// Roads finds the roads of another catalogue among ours. The two may have different ids for a road:
// earlier versions of this program put words for people into ids, and road data change names.
type Roads struct {
	ours, theirs map[string]bool   // ids
	byEarlier    map[string]string // our id by its earlier form
	byLine       map[string]string // our id by the fingerprint of its line; "" where several roads have it
}

// NewRoads makes the index from our roads and the ids of theirs. Of a record only ID and LineSHA256
// are used.
func NewRoads(ours []RouteRecord, theirs []string) *Roads {
	r := &Roads{ours: map[string]bool{}, theirs: map[string]bool{}, byEarlier: map[string]string{}, byLine: map[string]string{}}
	for _, id := range theirs {
		r.theirs[id] = true
	}
	for i := range ours {
		id, line := ours[i].ID, ours[i].LineSHA256
		r.ours[id] = true
		r.byEarlier[earlierID(id)] = id
		if line == "" {
			continue
		}
		if _, isTwice := r.byLine[line]; isTwice {
			id = ""
		}
		r.byLine[line] = id
	}
	return r
}

// Find returns our id of one of their roads; false where we do not have it. It is the road of the
// same id, of the id in the form of an earlier version, or of exactly the same line. A road of ours
// that is also in theirs under its own id is never another of their roads.
func (r *Roads) Find(theirs *RouteRecord) (id string, ok bool) {
	if r.ours[theirs.ID] {
		return theirs.ID, true
	}
	for _, id := range []string{r.byEarlier[theirs.ID], earlierID(theirs.ID), r.byLine[theirs.LineSHA256]} {
		if id != "" && r.ours[id] && !r.theirs[id] {
			return id, true
		}
	}
	return "", false
}

// Forms of an id: a place, the number of a part, the number in a file, the direction of a
// carriageway, a kind of road.
var (
	idPlace     = regexp.MustCompile(`@(\d+\.\d\d[NS])(\d+\.\d\d[EW])`)
	idPart      = regexp.MustCompile(`/(\d+)$`)
	idFeature   = regexp.MustCompile(`#(\d+)`)
	idDirection = regexp.MustCompile(` ([NESW])( at |$)`)
	idUnnamed   = regexp.MustCompile(`^highway=(\w*)`)
)

var directionWords = map[string]string{"N": "northbound", "E": "eastbound", "S": "southbound", "W": "westbound"}

// earlierID is an id in the form of earlier versions: "A 7@46.12N8.03E" was "A 7 at 46.12N 8.03E".
// An id without any such form is returned unchanged.
func earlierID(id string) string {
	id = idPlace.ReplaceAllString(id, " at $1 $2")
	id = idFeature.ReplaceAllString(id, " feature $1")
	id = idPart.ReplaceAllString(id, " (part $1)")
	id = idDirection.ReplaceAllStringFunc(id, func(s string) string { return " " + directionWords[s[1:2]] + s[2:] })
	return idUnnamed.ReplaceAllStringFunc(id, func(s string) string {
		return "unnamed " + strings.ReplaceAll(strings.TrimSpace(strings.TrimPrefix(s, "highway=")+" road"), "_", " ")
	})
}
