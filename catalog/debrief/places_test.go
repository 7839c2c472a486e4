package debrief

import (
	"testing"

	"gradeline/catalog"
)

// braked switches the service brakes on between some pairs of seconds.
func braked(in *Input, on ...[2]float64) {
	begin := in.Drive.Fixes[0].At
	for i := range in.Drive.Fixes {
		s := in.Drive.Fixes[i].At.Sub(begin).Seconds()
		isOn := false
		for _, x := range on {
			isOn = isOn || s >= x[0] && s < x[1]
		}
		in.Drive.Fixes[i].ServiceBrake = &isOn
	}
}

// Snubs and dragging are told apart by how long each application lasts; what lies before
// the crest does not count.
func TestBrakeUseBySwitch(t *testing.T) {
	// 10 m/s from 0 m; the crest is at 300 m, so seconds 30 on are on the hill.
	in := steadyDrive(t, 6, 10, 6)
	braked(&in, [2]float64{5, 9}, [2]float64{60, 63}, [2]float64{100, 103}, [2]float64{150, 175})
	d, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	u := d.Applied
	if u == nil || u.Count != 3 || u.Drags != 1 || u.IsSparse {
		t.Fatalf("%+v", u)
	}
	near(t, "in all", u.TotalS, 31, 1e-9)
	near(t, "the longest", u.LongestS, 25, 1e-9)
	near(t, "dragged", u.DragS, 25, 1e-9)
	near(t, "from", u.FromM, 300, 1)
	near(t, "to", u.ToM, 1450, 1)
	near(t, "known", u.KnownPct, 100, 1e-9)
	for _, c := range []struct {
		lastS float64
		drags int
	}{{9, 0}, {10, 1}} {
		in := steadyDrive(t, 6, 10, 6)
		braked(&in, [2]float64{60, 60 + c.lastS})
		if d, err := FromDrive(in); err != nil || d.Applied.Count != 1 || d.Applied.Drags != c.drags {
			t.Errorf("%g s: %+v, %v", c.lastS, d.Applied, err)
		}
	}
	in = steadyDrive(t, 6, 10, 6)
	if d, err = FromDrive(in); err != nil || d.Applied != nil {
		t.Errorf("without a switch: %+v, %v", d.Applied, err)
	}
	braked(&in)
	for i := range in.Drive.Fixes[:len(in.Drive.Fixes)/2] {
		in.Drive.Fixes[i].ServiceBrake = nil
	}
	if d, err = FromDrive(in); err != nil || d.Applied.Count != 0 || d.Applied.KnownPct > 60 || d.Applied.KnownPct < 50 {
		t.Errorf("half without a switch: %+v, %v", d.Applied, err)
	}
}

func TestPlacesPassedAndStops(t *testing.T) {
	at := func(m float64) *float64 { return &m }
	stand := func(ts float64) (float64, float64) { // 10 m/s, standing 40 s at 200 m
		switch {
		case ts < 20:
			return 10 * ts, 10
		case ts < 60:
			return 200, 0
		}
		return 200 + 10*(ts-60), 10
	}
	in := Input{Descent: eastbound(300, 2300), Class: debriefClass(t), Drive: drive(260, 1, stand, true),
		Profile: straightRoad(2800, func(s float64) float64 { return 900 - .05*s })}
	in.Sites = []catalog.Site{
		{Kind: catalog.EscapeRamp, Name: "ramp", Route: "Test Road", StationM: at(1800)},
		{Kind: catalog.BrakeCheck, Name: "top", Route: "Test Road", StationM: at(340)}, // 140 m past the stop
		{Kind: catalog.Pullout, Name: "far", Route: "Test Road", StationM: at(360)},    // 160 m past it
		{Kind: catalog.Pullout, Name: "other way", Route: "Test Road", Direction: "backward", StationM: at(900)},
		{Kind: catalog.Pullout, Name: "other road", Route: "B", StationM: at(900)},
		{Kind: catalog.Pullout, Name: "beyond", Route: "Test Road", StationM: at(2700)},
		{Kind: catalog.SignStands, Name: "sign", Route: "Test Road", StationM: at(900)},
		{Kind: catalog.Pullout, Name: "nowhere", Route: "Test Road"},
	}
	d, err := FromDrive(in)
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Places) != 3 || d.Places[0].Name != "top" || d.Places[1].Name != "far" || d.Places[2].Name != "ramp" {
		t.Fatalf("%+v", d.Places)
	}
	near(t, "stop at the top", d.Places[0].StopS, 40, 2)
	near(t, "top", d.Places[0].DistanceM, 40, 1e-9)
	if d.Places[1].StopS != 0 || d.Places[2].StopS != 0 || d.Places[2].IsUnseen {
		t.Errorf("%+v", d.Places)
	}
	// Without points about the ramp nobody knows whether the truck stood there.
	keep := in.Drive.Fixes[:0:0]
	for _, f := range in.Drive.Fixes {
		if s := f.At.Sub(in.Drive.Fixes[0].At).Seconds(); s < 200 || s > 240 {
			keep = append(keep, f)
		}
	}
	in.Drive.Fixes = keep
	if d, err = FromDrive(in); err != nil || len(d.Places) != 3 || !d.Places[2].IsUnseen || d.Places[0].IsUnseen {
		t.Errorf("%+v, %v", d.Places, err)
	}
}
