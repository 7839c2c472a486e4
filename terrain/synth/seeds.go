package synth

// Seed sets. No constant is ever chosen by its results on Testing or HoldOut; HoldOut is run once,
// after all other choices. Seeds 3001 to 3080 were a hold-out until one of their roads was
// examined, 6001 to 6080 until the grade line was changed again; those from 4001 to 5300 were used
// to find faults with long structures. The stated bounds are fitted on Bounds.
var (
	Tuning  = seedRange(1001, 24)
	Testing = seedRange(2001, 126)
	HoldOut = seedRange(7001, 160)
	Bounds  = seedRange(8001, 200)
	// Fresh is the hold-out that was drawn after the last change to the grade line of terrain alone.
	// FreshKinds are its roads of each kind: 30 that are not used now, 30 with benches, 20 that are
	// not used, since one of their displaced lines is two roads, and 20 that end on slopes. FreshLines
	// are 20 roads of an earlier hold-out, drawn next to their line.
	Fresh      = seedRange(61001, 100)
	FreshKinds = seedRange(62001, 100)
	FreshLines = seedRange(42061, 20)
	// SteepTuning are the roads with short steep parts on which the bounds of the steepest windows
	// were chosen, FreshSteep those on which they were then read.
	SteepTuning = seedRange(71001, 80)
	FreshSteep  = seedRange(72001, 84)
	// DriveTuning chose the bounds of grade lines with recorded drives; DriveHoldOut was run once,
	// after that. Seeds 43001 to 43060 were a hold-out until the bounds were changed again.
	DriveTuning  = seedRange(1001, 40)
	DriveHoldOut = seedRange(45001, 60)
)

func seedRange(first uint64, count int) []uint64 {
	s := make([]uint64, count)
	for i := range s {
		s[i] = first + uint64(i)
	}
	return s
}
