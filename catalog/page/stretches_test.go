package page

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// slowedHold is the specimen's hold with shifts on the way: seventh gear, a slowing by the service
// brakes from 35 to 15 mph between stations 6,000 and 6,200 m, then its own sixth at 15 mph.
func slowedHold(t *testing.T) catalog.Hold {
	t.Helper()
	h := specimen.Entry(routes.Forward).Holds[0]
	const mph = catalog.MilePerHourMPS
	h.Stretches = []catalog.HoldStretch{
		{FromM: 1500, ToM: 6000, Gear: 7, GearName: "7", Levers: h.Levers, SpeedMPS: 35 * mph, LimitedBy: catalog.LimitEngineSpeed},
		{FromM: 6000, ToM: 6200, Gear: 6, GearName: "6", Levers: h.Levers, SpeedMPS: 15 * mph, LimitedBy: catalog.LimitCurve, Slowing: &catalog.Slowing{FromSpeedMPS: 35 * mph, ServiceBrakeTempC: 88}},
		{FromM: 6200, ToM: 8000, Gear: 6, GearName: "6", Levers: h.Levers, SpeedMPS: 15 * mph, LimitedBy: catalog.LimitCurve},
	}
	return h
}

// A planned slowing by the service brakes is an action: where it begins, to which speed, and that the
// foot stays on the brake until the gear is in.
func TestAPlannedSlowingIsAnAction(t *testing.T) {
	h := slowedHold(t)
	both := func(of func(catalog.Units) string) string { return of(catalog.US) }
	list, isCut := shownStretches(&h, catalog.US)
	if len(list) != 2 || isCut { // the third is the same for the driver
		t.Fatalf("%+v", list)
	}
	says(t, "the hill", stretchWords(&list[0], &h, both), "Or gear 7: ", "at most 35 mph")
	says(t, "the slowing", stretchWords(&list[1], &h, both), "SLOW DOWN from here by the service brakes, to 15 mph; foot on the brake until gear 6 is in")
	says(t, "show", wording.Stretch(&list[1], catalog.US), "from 35 mph to 15 mph", "about 190 °F", "until gear 6 is in")
	e := specimen.Entry(routes.Forward)
	e.Holds[0] = h
	trip := Trip{From: "A", To: "B", Class: h.Class, LengthM: 9000, Entries: []catalog.Entry{e}, Units: catalog.US}
	var words []string
	for _, r := range trip.rows() {
		words = append(words, r.What)
		if strings.HasPrefix(r.What, "SLOW DOWN from here by the service brakes") && (!r.IsStrong || r.atM != 6000) {
			t.Errorf("%+v is not an action at 6 km", r)
		}
	}
	all := strings.Join(words, "\n")
	says(t, "the trip", all, "SLOW DOWN from here by the service brakes, to 15 mph", "Keep it all the way, or shift only as the list says.")
	saysNot(t, "the trip", all, "No shift on the hill")
}

// A page that has no room for all changes shows none of those with shifts: a driver who stops at one
// in a higher gear would have nothing to hold the rest of the hill.
func TestAPageHasAllShiftsOrNone(t *testing.T) {
	h := slowedHold(t)
	first := h.Stretches[0]
	h.Stretches = nil
	for i := range mostStretches + 1 {
		x := first
		x.SpeedMPS -= float64(i) * 2 * catalog.MilePerHourMPS
		h.Stretches = append(h.Stretches, x)
	}
	if list, isCut := shownStretches(&h, catalog.US); len(list) != 0 || !isCut {
		t.Errorf("%d shown, cut %v", len(list), isCut)
	}
	for i := range h.Stretches {
		h.Stretches[i].Gear = h.Gear
	}
	if list, isCut := shownStretches(&h, catalog.US); len(list) != mostStretches || !isCut {
		t.Errorf("without shifts %d shown, cut %v", len(list), isCut)
	}
}
