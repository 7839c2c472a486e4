package signs

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gradeline/catalog"
)

// Quantity is the number of faces of one designation and size, by action.
type Quantity struct {
	Designation string         `json:"designation"`
	Name        string         `json:"sign"`
	IsPlaque    bool           `json:"plaque"`
	Size        string         `json:"size"`
	Count       map[string]int `json:"count"` // by action
	NoPlace     int            `json:"no_place"`
}

// Quantities adds up the faces of schedules whose posts were planned, and the posts.
func Quantities(schedules []Schedule) (faces []Quantity, posts map[string]int) {
	byKey := map[string]*Quantity{}
	posts = map[string]int{}
	for i := range schedules {
		for _, p := range schedules[i].Posts {
			posts[p.Action]++
			for _, f := range p.Faces {
				isPlaque := f.IsPlaque && f.Name == plaqueName // a sign that is mounted with another is ordered as a sign
				key := fmt.Sprint(isPlaque, f.Designation, f.Size)
				q := byKey[key]
				if q == nil {
					name, _, _ := strings.Cut(f.Name, ",")
					q = &Quantity{Designation: f.Designation, Name: name, IsPlaque: isPlaque, Size: f.Size, Count: map[string]int{}}
					byKey[key] = q
				}
				q.Count[f.Action]++
				if !p.OnLine {
					q.NoPlace++
				}
			}
		}
	}
	faces = []Quantity{}
	for _, q := range byKey {
		faces = append(faces, *q)
	}
	slices.SortFunc(faces, func(a, b Quantity) int {
		return cmp.Or(strings.Compare(fmt.Sprint(a.IsPlaque), fmt.Sprint(b.IsPlaque)), strings.Compare(a.Designation, b.Designation), strings.Compare(a.Size, b.Size))
	})
	return faces, posts
}

// QuantityTable is the quantities as rows, the posts last.
func QuantityTable(faces []Quantity, posts map[string]int) (header []string, rows [][]string) {
	header = append(append([]string{"designation", "sign", "size"}, Actions...), "place_not_known")
	line := func(words []string, count map[string]int, noPlace string) {
		row := words
		for _, a := range Actions {
			row = append(row, fmt.Sprint(count[a]))
		}
		rows = append(rows, append(row, noPlace))
	}
	for _, q := range faces {
		line([]string{q.Designation, q.Name, q.Size}, q.Count, fmt.Sprint(q.NoPlace))
	}
	line([]string{"posts", "", ""}, posts, "")
	return header, rows
}

// PostTable is the posts as rows, one for each face, in the units of u.
func (s *Schedule) PostTable(u catalog.Units) (header []string, rows [][]string) {
	unit := "m"
	if u == catalog.US {
		unit = "ft"
	}
	header = []string{"post", "action", "station_" + unit, "station_err_" + unit, "milepost", "side", "offset_from_edge_" + unit, "from_line_" + unit, "longitude_deg", "latitude_deg",
		"sign_number", "face_action", "designation", "plaque", "size", "size_status", "legend", "need", "standing", "photo", "why"}
	for _, p := range s.Posts {
		lon, lat := "", ""
		if p.OnLine {
			lon, lat = fmt.Sprintf("%.7f", p.LonDeg), fmt.Sprintf("%.7f", p.LatDeg)
		}
		for _, f := range p.Faces {
			number := ""
			if f.Sign > 0 {
				number = fmt.Sprint(f.Sign)
			}
			rows = append(rows, []string{fmt.Sprint(p.Number), p.Action, whole(u, p.StationM), whole(u, p.StationErrM), s.Mileposts.Words(p.StationM), p.Side,
				tenth(u, p.OffsetM), tenth(u, p.FromLineM), lon, lat, number, f.Action, f.Designation, fmt.Sprint(f.IsPlaque), f.Size, f.SizeStatus, f.Legend, f.Need, f.Standing, f.Photo, f.Why})
		}
	}
	return header, rows
}

// tenth writes a length to a tenth of a foot or metre.
func tenth(u catalog.Units, lengthM float64) string {
	if u == catalog.US {
		lengthM = catalog.FtFromM(lengthM)
	}
	return fmt.Sprintf("%.1f", lengthM)
}
