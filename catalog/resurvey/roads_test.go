package resurvey

import "testing"

// The forms that ids had in an earlier version of this program, as TestAnEarlierIDStays of package
// store and the routes of packages stationing and network have them.
func TestRoadsAreFoundUnderAnEarlierID(t *testing.T) {
	for id, earlier := range map[string]string{
		"Kestrel Road":                    "Kestrel Road",
		"Kestrel Road/2":                  "Kestrel Road (part 2)",
		"roads#3":                         "roads feature 3",
		"roads#3/2":                       "roads feature 3 (part 2)",
		"A 7@46.12N8.03E":                 "A 7 at 46.12N 8.03E",
		"A 7 E":                           "A 7 eastbound",
		"A 7 S@46.12N8.03W":               "A 7 southbound at 46.12N 8.03W",
		"highway=primary_link@4.00S8.03E": "unnamed primary link road at 4.00S 8.03E",
		"highway=":                        "unnamed road",
	} {
		for _, x := range [][2]string{{id, earlier}, {earlier, id}} {
			r := NewRoads([]RouteRecord{{ID: x[0]}, {ID: "another road"}}, []string{x[1]})
			if got, ok := r.Find(&RouteRecord{ID: x[1]}); !ok || got != x[0] {
				t.Errorf("%q among %q: %q, %v", x[1], x[0], got, ok)
			}
		}
	}
}

func TestRoadsAreFoundByTheirLine(t *testing.T) {
	ours := []RouteRecord{{ID: "Old Road", LineSHA256: "1"}, {ID: "Loop", LineSHA256: "2"}, {ID: "Loop/2", LineSHA256: "2"}, {ID: "Unknown line"}}
	for _, c := range []struct {
		what   string
		theirs RouteRecord
		others []string
		want   string
	}{
		{"the same line under another name", RouteRecord{ID: "New Road", LineSHA256: "1"}, nil, "Old Road"},
		{"theirs has both names", RouteRecord{ID: "New Road", LineSHA256: "1"}, []string{"Old Road"}, ""},
		{"two of ours have the line", RouteRecord{ID: "New Loop", LineSHA256: "2"}, nil, ""},
		{"another line", RouteRecord{ID: "New Road", LineSHA256: "3"}, nil, ""},
		{"no line is known", RouteRecord{ID: "New Road"}, nil, ""},
		{"the same id on another line", RouteRecord{ID: "Old Road", LineSHA256: "3"}, nil, "Old Road"},
	} {
		got, ok := NewRoads(ours, append(c.others, c.theirs.ID)).Find(&c.theirs)
		if got != c.want || ok != (c.want != "") {
			t.Errorf("%s: %q, %v; want %q", c.what, got, ok, c.want)
		}
	}
}
