package resurvey_test

import (
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/resurvey"
	"gradeline/routes"
)

// A new survey finds an approved hill 300 m further on than its bounds allow: it is
// proposed, and the approval is in question.
func ExampleCompare() {
	hill := func(startM float64) catalog.Entry {
		return catalog.Entry{Descent: routes.Descent{StartM: startM, EndM: startM + 4000, LengthM: 4000, StartErrM: 40, EndErrM: 400, MeanDowngradePct: 6, MeanDowngradeErrPct: 0.2}}
	}
	held := resurvey.Stored{Entry: hill(1000)}
	held.Descent.ID = "kestrel-road-f-1.0"
	held.Review.State = catalog.Approved
	survey := resurvey.RouteSurvey{Route: resurvey.RouteRecord{ID: "Kestrel Road"}, Entries: []catalog.Entry{hill(1300)}}

	plan, err := resurvey.Compare(&survey,
		resurvey.Known{Slug: "kestrel-road", SameLine: true, Descents: []*resurvey.Stored{&held}},
		resurvey.Options{At: "2026-03-04T05:06:07.000Z", IsTaken: func(string) (bool, error) { return false, nil }})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range plan.Steps {
		fmt.Println(s.ID, s.Do == resurvey.Propose, s.Why)
	}
	// Output: kestrel-road-f-1.0 true survey of 2026-03-04 moved it beyond its bounds: the crest moved by 300 m, from station 1000 m to 1300 m (bound 57 m); accept or refuse it
}
