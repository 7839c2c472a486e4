package lesson

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog/holding"
	"gradeline/catalog/wording"
)

// question is one question of the lesson with its answer from this hill's figures.
type question struct{ ask, answer string }

func asked(q []question) []string {
	var out []string
	for i := range q {
		out = append(out, q[i].ask)
	}
	return out
}

// questions are made from this hill's own figures.
func (l *lesson) questions() []question {
	var out []question
	u, h := l.Units, l.hold
	if l.answer == wording.Held {
		out = append(out, question{"Which gear, which stage, and how fast at most?", fmt.Sprintf("Gear %s, %s, at most %s.", h.GearLabel(), h.StageWords(), u.Speed(h.SpeedMPS))},
			question{"Where must the gear be in, and why not later?", fmt.Sprintf("%s. On the hill a missed shift leaves the truck out of gear, and the retarder gives nothing.", sentence(l.gearBy()))},
			question{"How much of the retarder is left at the worst place?", fmt.Sprintf("%.0f %%.", math.Floor(100-h.RetarderUsePct))},
			question{"On which roads may this stage not be used, and what happens there?", l.roads()})
		if half := l.half(); half != "" {
			out = append(out, question{"Half of the retarder fails at the crest. What now?", half})
		}
		if up := h.OneGearUpIn(u); up != "" {
			out = append(out, question{"What happens one gear higher?", sentence(up) + "."})
		}
	} else {
		t := "No. No gear holds it on the retarder alone."
		if h.HeaviestMassKg > 0 {
			t += " The heaviest mass that holds is " + u.MassDown(h.HeaviestMassKg) + "."
		}
		out = append(out, question{fmt.Sprintf("May this truck go down this hill at %s?", u.MassDown(h.MassKg)), t})
	}
	drag, snub := l.run(holding.WayDragged), l.run(holding.WaySnubbed)
	out = append(out, question{"The service brakes are dragged from the crest. Where do they leave their working range, and how hot do they get?",
		fmt.Sprintf("From %s on; up to %s. %s", l.from(drag.WorkingM), u.Temp(drag.PeakC), l.ending(drag))},
		question{"Does snubbing keep them cool?", fmt.Sprintf("No. The hill puts the same work into them. Snubbed they come to %s, dragged to %s. %s", u.Temp(snub.PeakC), u.Temp(drag.PeakC), l.ending(snub))})
	if !l.Class.Truck.ServiceBrakes.IsDisc() {
		last := drag.Stations[len(drag.Stations)-1]
		out = append(out, question{"How far does the pushrod travel at the end of the dragged run, and where does its stroke end?", sentence(l.strokeOfLimit(last.StrokeM)) + "."})
	}
	if cold := l.run(holding.WayRetarder); cold != nil {
		out = append(out, question{"A car stops in front of you at the foot. How far do you need, with cold brakes and with dragged ones?",
			fmt.Sprintf("Cold: %s. Dragged: %s.", l.stop(cold), strings.ToLower(l.stop(drag)))})
	}
	return append(out, question{"You smell hot brakes. What do you do?", "Stop at the first safe place while they still stop the truck. Let them cool. Past that: stay in gear, retarder on, and use the escape ramp if there is one."})
}

// ending says whether a run reached the foot.
func (l *lesson) ending(r *holding.BrakeRun) string {
	if r.LostM == nil {
		return "They still hold at the foot."
	}
	return "They can no longer hold from " + l.Units.Length(*r.LostM) + " on."
}

// roads says on which surfaces the stage may not be used.
func (l *lesson) roads() string {
	if len(l.hold.SurfacesOut) == 0 {
		return "None of the surfaces that are judged. Look at the road anyway."
	}
	return sentence(strings.Join(l.hold.SurfacesOut, ", ")) + ". The wheels that the retarder acts on lock, and the trailer can push the tractor sideways."
}

// half is the advice with half the retarder failed.
func (l *lesson) half() string {
	for _, x := range l.hold.Sensitivity {
		if x.Change != holding.ChangeHalfRetarder {
			continue
		}
		if !x.Holds {
			return "Nothing holds this hill then. Stop before the crest; on the hill, at the first safe place."
		}
		return fmt.Sprintf("A lower gear, at most %s. Before the crest: turn back or shift down. On the hill: slow down with one firm application first.", l.Units.Speed(x.SpeedMPS))
	}
	return ""
}
