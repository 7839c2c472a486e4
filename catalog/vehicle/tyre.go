package vehicle

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// RollingRadiusMFromRevsPerMi is 1609.344/(2π·n) metres: 500 → 0.5123, 512 → 0.5003.
func RollingRadiusMFromRevsPerMi(revsPerMi float64) float64 {
	return 1609.344 / (2 * math.Pi * revsPerMi)
}

// RollingRadiusMFromTyreSize reads a metric size such as "295/75R22.5" and
// returns the rolling radius 3.05·D/(2π), D the overall diameter: the factor for
// radial tyres of the European Tyre and Rim Technical Organisation's standards
// manual, from memory. A maker's revolutions per mile is better.
func RollingRadiusMFromTyreSize(size string) (float64, error) {
	s := strings.ToUpper(strings.ReplaceAll(size, " ", ""))
	width, rest, ok := strings.Cut(s, "/")
	aspect, rim, ok2 := strings.Cut(rest, "R")
	w, err1 := strconv.ParseFloat(width, 64)
	a, err2 := strconv.ParseFloat(aspect, 64)
	r, err3 := strconv.ParseFloat(rim, 64)
	if !ok || !ok2 || err1 != nil || err2 != nil || err3 != nil ||
		!(w >= 150 && w <= 500 && a >= 30 && a <= 110 && r >= 12 && r <= 26) {
		return 0, fmt.Errorf("%q is no metric tyre size such as 295/75R22.5", size)
	}
	diameterM := r*0.0254 + 2*w*a/100/1000
	return 3.05 * diameterM / (2 * math.Pi), nil
}
