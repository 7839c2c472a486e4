package holding

import (
	"fmt"

	"gradeline/catalog"
)

// ReadWeather reads the weather that advice is asked for: temperatures as catalog.TempRangeC reads
// them, and a tail wind; empty for the usual ones. For a survey, whose advice is read on many days,
// one temperature alone is the hottest of its season, or below freezing the coldest; for a day it is
// that day's.
func ReadWeather(temperature, tailwind string, isOfOneDay bool) (*catalog.Weather, error) {
	w := UsualWeather()
	var err error
	if temperature != "" {
		if w.ColdestC, w.HottestC, err = catalog.TempRangeC(temperature); err != nil {
			return nil, err
		}
		if usual := UsualWeather(); !isOfOneDay && w.ColdestC == w.HottestC {
			if w.HottestC > usual.ColdestC {
				w.ColdestC = usual.ColdestC
			} else {
				w.HottestC = usual.HottestC
			}
		}
	}
	if tailwind != "" {
		if w.TailwindMPS, err = catalog.WindMPS(tailwind); err != nil {
			return nil, err
		}
	}
	o := Options{Weather: w}
	if what, fix := o.weatherFault(); what != "" {
		return nil, &catalog.Fault{Kind: catalog.ErrQuantity, What: what, Fix: fix}
	}
	return w, nil
}

// weatherLead says for which weather an answer is; empty for the standard atmosphere.
func (p *problem) weatherLead() string {
	w := p.opt.weather()
	if w == nil {
		return ""
	}
	return fmt.Sprintf("For %s. In other weather get advice for that.", w.Words(p.units))
}
