package store

import (
	"strconv"
	"strings"

	"gradeline/catalog"
)

// The weather of a hold is behind the mark in the column class_figures, after an asterisk: nothing
// more for the weather of most holds, else the coldest and hottest air in °C and the tail wind in
// m/s, as in "6:0123456789abcdef*-10,45,5". Older holds have no asterisk and no weather. An older
// program takes such a mark for that of other figures, and puts the hold in question.

const weatherMark = "*"

// plainWeather is the weather of an asterisk alone. It never changes: stored holds have it.
var plainWeather = catalog.Weather{ColdestC: 0, HottestC: 40, TailwindMPS: 5}

// figuresText is the value of the column class_figures for a hold.
func figuresText(h *catalog.Hold) string {
	switch w := h.Weather; {
	case w == nil:
		return h.ClassFigures
	case *w == plainWeather:
		return h.ClassFigures + weatherMark
	default:
		b := append([]byte(h.ClassFigures), weatherMark...)
		for i, v := range [...]float64{w.ColdestC, w.HottestC, w.TailwindMPS} {
			if i > 0 {
				b = append(b, ',')
			}
			b = strconv.AppendFloat(b, v, 'g', -1, 64)
		}
		return string(b)
	}
}

// fillFigures reads a value of the column class_figures. One that this program cannot read stays
// the mark of other figures.
func fillFigures(h *catalog.Hold, text string) {
	h.ClassFigures, h.Weather = text, nil
	mark, weather, isTold := strings.Cut(text, weatherMark)
	if !isTold {
		return
	}
	w := plainWeather
	if weather != "" {
		list := strings.Split(weather, ",")
		to := [...]*float64{&w.ColdestC, &w.HottestC, &w.TailwindMPS}
		if len(list) != len(to) {
			return
		}
		for i := range to {
			var err error
			if *to[i], err = strconv.ParseFloat(list[i], 64); err != nil {
				return
			}
		}
	}
	h.ClassFigures, h.Weather = mark, &w
}
