package vehicle

import "strconv"

// UsualGearNames are the names on the lever or display of a box with so many gears:
// the usual 9-, 13- and 18-speed range boxes, else the count. From memory.
func UsualGearNames(gears int) []string {
	var names []string
	switch gears {
	case 9:
		names = append(names, "Lo")
		for g := 1; g <= 8; g++ {
			names = append(names, strconv.Itoa(g))
		}
	case 13: // low, four gears, then four that split
		names = append(names, "Lo", "1", "2", "3", "4")
		for g := 5; g <= 8; g++ {
			names = append(names, strconv.Itoa(g)+"L", strconv.Itoa(g)+"H")
		}
	case 18: // low and eight gears, all split
		names = append(names, "LoL", "LoH")
		for g := 1; g <= 8; g++ {
			names = append(names, strconv.Itoa(g)+"L", strconv.Itoa(g)+"H")
		}
	default:
		for g := 1; g <= gears; g++ {
			names = append(names, strconv.Itoa(g))
		}
	}
	return names
}
