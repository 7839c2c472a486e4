package wording

// BrakeKind is the kind of brakes on a truck's wheels.
type BrakeKind uint8

// The kinds of brake.
const (
	AnyBrakes BrakeKind = iota // not known, or both
	DrumBrakes
	DiscBrakes
)

// CheckGroup is a part of the checklist for the brake check area.
type CheckGroup struct {
	Title string
	Items []string
}

// BrakeCheckDefers is the first sentence of every brake checklist.
const BrakeCheckDefers = "A general list. Local rules, the posted signs and the maker's own list come first. A driver who finds a fault does not start down the hill."

// BrakeCheckLine is the checklist in one line for the driver's page.
func BrakeCheckLine(k BrakeKind) string {
	wheels := "no wheel hot, smoking or smelling; strokes and pads within their limit"
	switch k {
	case DrumBrakes:
		wheels = "no drum hot, smoking or smelling; pushrod strokes within their limit"
	case DiscBrakes:
		wheels = "no disc hot, smoking or smelling; pads within their limit"
	}
	return "Air pressure up and steady, no leak; " + wheels + "; parking brake holds; retarder answers. Local rules and the maker's list come first."
}

// BrakeCheck is the checklist by kind of brake. Its items are common practice, without
// a source; figures set by rules are in the rules and the maker's manual, not here.
func BrakeCheck(k BrakeKind) []CheckGroup {
	out := []CheckGroup{{"Before you leave the cab", []string{
		"Stand on level ground, off the road. Parking brake set, gear in, lamps on. Chock the wheels before you release anything.",
		"Read the signs of this hill and this page: gear, stage, speed, and where the gear must be in.",
	}}, {"Air", []string{
		"Pressure builds up to the governor's cut-out and stays there.",
		"Engine off, pedal pressed and held for a minute: the gauge falls by no more than the rule allows. Walk round and listen for leaks.",
		"Pump the pedal: the low-pressure warning comes on in time.",
		"Hoses and couplings to the trailer: tight, not rubbing, not bulging. The trailer's supply is on.",
	}}}
	drum := CheckGroup{"Drum brakes", []string{
		"Every pushrod's stroke at a full application is within its limit. A long one is not a job for the roadside: have it found why.",
		"Drums: no crack, no smoke, no smell. Hold the back of the hand near, do not touch: one that is hotter than the rest is dragging, one that stays cold is not working.",
		"Linings: thick enough, dry, no oil.",
	}}
	disc := CheckGroup{"Disc brakes", []string{
		"Pads and discs: wear marks within their limit, no deep crack, no smoke, no smell.",
		"Calipers slide: the pads on both sides are worn alike, and no wheel is hotter than the rest.",
		"A disc brake has no pushrod stroke to see from outside: treat a warning lamp as a fault.",
	}}
	if k != DiscBrakes {
		out = append(out, drum)
	}
	if k != DrumBrakes {
		out = append(out, disc)
	}
	return append(out, CheckGroup{"Spring brakes (parking brakes)", []string{
		"Released, they let every wheel go. Set, they hold the truck against a light pull in the lowest gear.",
		"No release bolt is left in. Chambers are not bent, cracked or rusted through.",
	}}, CheckGroup{"Retarder and the rest", []string{
		"Switch every stage on and off while rolling off: each one answers. If one does not, the advice on the page does not hold.",
		"Tyres sound, wheel nuts tight, load secure, mass known. The page is for that mass.",
		"Leave the area in the gear that the page names if it is close to the crest.",
	}})
}
