package stationing

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"gradeline/routes"
)

// Readers of OpenStreetMap tag values (wiki pages Key:maxspeed, Key:incline,
// Key:oneway; from memory but for incline, which was seen quoted).

const (
	maxMPS = 300 * routes.KilometrePerHourMPS // no road has a higher limit
)

var speedPattern = regexp.MustCompile(`^(\d{1,3}(?:\.\d{1,3})?)\s*(mph|km/h|kmh|kph)?$`)

// parseSpeed reads a maxspeed value: km/h unless mph; of several the lowest.
// known is false for a text that could hide a limit.
func parseSpeed(s string) (speedMPS float64, ok, known bool) {
	s = strings.ToLower(strings.TrimSpace(s))
	switch s {
	case "", "none", "no", "signals", "variable", "unknown":
		return 0, false, true
	}
	for _, part := range strings.FieldsFunc(s, func(r rune) bool { return r == ';' || r == '|' }) {
		m := speedPattern.FindStringSubmatch(strings.TrimSpace(part))
		if m == nil {
			return 0, false, false
		}
		v, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			return 0, false, false
		}
		if m[2] == "mph" {
			v *= routes.MilePerHourMPS
		} else {
			v *= routes.KilometrePerHourMPS
		}
		if v <= 0 || v > maxMPS {
			return 0, false, false
		}
		if !ok || v < speedMPS {
			speedMPS, ok = v, true
		}
	}
	return speedMPS, ok, ok
}

// LimitMPS is the speed limit that a line's tags state for trucks in one direction of
// travel along it, the lowest that applies; ok is false where none is stated.
func LimitMPS(tags map[string]string, isReversed bool) (speedMPS float64, ok bool) {
	side := ":forward"
	if isReversed {
		side = ":backward"
	}
	for _, key := range []string{"maxspeed", "maxspeed:hgv"} {
		text := tags[key+side]
		if text == "" {
			text = tags[key]
		}
		if v, has, _ := parseSpeed(text); has && (!ok || v < speedMPS) {
			speedMPS, ok = v, true
		}
	}
	return speedMPS, ok
}

var inclinePattern = regexp.MustCompile(`^([+-]?\d{1,3}(?:[.,]\d{1,6})?)\s*([%°]?)$`)

// parseIncline reads an incline value: per cent, or degrees by their tangent,
// rising along the line positive; up and down give a sign and no grade.
func parseIncline(s string) (gradePct float64, sign int, ok bool) {
	s = strings.ToLower(strings.TrimSpace(strings.ReplaceAll(s, "\u2212", "-")))
	switch s {
	case "up":
		return math.NaN(), 1, true
	case "down":
		return math.NaN(), -1, true
	}
	m := inclinePattern.FindStringSubmatch(s)
	if m == nil {
		return 0, 0, false
	}
	v, err := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
	if err != nil {
		return 0, 0, false
	}
	if m[2] == "°" {
		if math.Abs(v) > 45 {
			return 0, 0, false
		}
		v = 100 * math.Tan(v*math.Pi/180)
	}
	if math.Abs(v) > 100 {
		return 0, 0, false
	}
	switch {
	case v > 0:
		sign = 1
	case v < 0:
		sign = -1
	}
	return v, sign, true
}

// parseOneWay returns +1 for along the line, -1 for against it, 0 for both.
func parseOneWay(s string) int {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "yes", "1", "true":
		return 1
	case "-1", "reverse":
		return -1
	}
	return 0
}

// structureOf returns the structure that a complete piece is on. Any value except a clear no
// counts: interpolation over good ground costs little, but a valley read as the road costs a
// descent.
func structureOf(tags map[string]string) (routes.StructureKind, bool) {
	isSet := func(v string) bool {
		switch strings.ToLower(strings.TrimSpace(v)) {
		case "", "no", "0", "false", "none":
			return false
		}
		return true
	}
	switch {
	case isSet(tags["tunnel"]):
		return routes.Tunnel, true
	case isSet(tags["bridge"]):
		return routes.Bridge, true
	}
	return 0, false
}
