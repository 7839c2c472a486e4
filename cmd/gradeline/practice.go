package main

import (
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/cmd/commandline"
)

func (s *session) practiceCommand() *cli.Command {
	return &cli.Command{
		Name: "practice", Usage: "practice grades for a training truck, easiest first, and why",
		Flags: append(filterFlags(),
			nearFlag(), withinFlag(),
			marginFlag(),
			jsonFlag(), unitsFlag()),
		Action: s.practice,
	}
}

func nearFlag() cli.Flag {
	return &cli.StringFlag{Name: "near", Usage: "only practice grades near this `LON,LAT` in degrees"}
}

func withinFlag() cli.Flag {
	return &cli.StringFlag{Name: "within", Value: "50km", Usage: "how near, as a straight `DISTANCE`"}
}

func marginFlag() cli.Flag {
	return &cli.StringFlag{Name: "margin", Value: "20%", Usage: "how much of the retarder must stay unused on a practice grade, in `PERCENT`"}
}

func (s *session) practice(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	a, err := ladder(c)
	if err != nil {
		return err
	}
	return s.answer(c, a, u)
}

// ladder puts the catalogue's practice grades in order.
func ladder(c *cli.Context) (*answer.Practice, error) {
	o := answer.PracticeOptions{Class: c.String("class")}
	if o.Class == "" {
		return nil, usagef("practice needs --class with the training truck; gradeline classes list shows them")
	}
	var err error
	if o.MarginPct, err = catalog.DowngradePct(c.String("margin")); err != nil {
		return nil, usageError("--margin: give per cent, as in 20%")
	}
	if near := c.String("near"); near != "" {
		at, err := pointFrom(near)
		if err != nil {
			return nil, usagef("--near %v", err)
		}
		o.Near = &at
	}
	if o.WithinM, err = catalog.LengthM(c.String("within")); err != nil {
		return nil, usageError("--within " + err.Error())
	}
	cat, es, err := chosen(c)
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	return answer.NewPractice(c.Context, cat, es, o)
}

// pointFrom reads lon,lat in degrees.
func pointFrom(text string) (orb.Point, error) {
	lon, lat, ok := strings.Cut(text, ",")
	x, err1 := strconv.ParseFloat(strings.TrimSpace(lon), 64)
	y, err2 := strconv.ParseFloat(strings.TrimSpace(lat), 64)
	if !ok || err1 != nil || err2 != nil || !(x >= -180 && x <= 180) || !(y >= -90 && y <= 90) {
		return orb.Point{}, usagef("%q: give longitude,latitude in degrees, as in 10.4,46.9", text)
	}
	return orb.Point{x, y}, nil
}
