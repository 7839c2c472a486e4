package main

import (
	"io"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/overlay"
	"gradeline/cmd/commandline"
)

func (s *session) overlayCommand() *cli.Command {
	return &cli.Command{
		Name: "overlay", Usage: "RFC 7946 GeoJSON of the catalogue, for any map",
		ArgsUsage: "descents | holds | avoid | signs | sites | practice",
		Flags: append(filterFlags(), outFlag(), forceFlag(),
			rulesFlag(), approachFlag(), marginFlag(), nearFlag(), withinFlag(),
			&cli.StringFlag{Name: "shape", Value: "polygon", Usage: "`SHAPE` of the avoid overlay: line, which closes one direction, or polygon, which closes both"},
			&cli.StringFlag{Name: "width", Value: "10m", Usage: "`WIDTH` of the polygons of the avoid overlay, as in 10m"}),
		Action: s.overlay,
	}
}

// overlayKinds are the overlays and whether each speaks of one weight class.
var overlayKinds = []struct {
	name    string
	ofClass bool
}{{"descents", false}, {"holds", true}, {"avoid", true}, {"signs", false}, {"sites", false}, {"practice", true}}

func overlayNames() []string {
	var names []string
	for _, k := range overlayKinds {
		names = append(names, k.name)
	}
	return names
}

func (s *session) overlay(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 1, "one of: descents, holds, avoid, signs, sites, practice"); err != nil {
		return err
	}
	what, isKind, ofClass := c.Args().First(), false, false
	names := overlayNames()
	for _, k := range overlayKinds {
		if k.name == what {
			isKind, ofClass = true, k.ofClass
		}
	}
	if !isKind {
		return usagef("overlay has no %q%s; use %s", what, commandline.DidYouMean(what, names), commandline.Listed(names))
	}
	class := c.String("class")
	if ofClass && class == "" {
		return usagef("overlay %s needs --class; gradeline classes list shows them", what)
	}
	widthM, err := catalog.LengthM(c.String("width"))
	if err != nil {
		return usageError("--width " + err.Error())
	}
	shape, isShape := avoidShapes[c.String("shape")]
	if !isShape {
		return usagef("--shape %q: use line or polygon", c.String("shape"))
	}
	if what == "holds" || what == "avoid" {
		cat, err := openCatalog(c)
		if err != nil {
			return err
		}
		err = known(c, cat)
		cat.Close()
		if err != nil {
			return err
		}
		// The class is what the overlay speaks of; it must not hide a descent that has no answer for it.
		if err := c.Set("class", ""); err != nil {
			return err
		}
	}
	switch what {
	case "signs":
		return s.signsOverlay(c)
	case "sites":
		return s.sitesOverlay(c)
	case "practice":
		a, err := ladder(c)
		if err != nil {
			return err
		}
		return s.toOutput(c, a.WriteOverlay)
	}
	return s.lineOverlay(c, what, class, overlay.AvoidOptions{Shape: shape, WidthM: widthM})
}

// lineOverlay writes the lines of descents, what holds on them, or what to keep off.
func (s *session) lineOverlay(c *cli.Context, what, class string, avoid overlay.AvoidOptions) error {
	cat, es, err := chosen(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if what == "avoid" && avoid.Shape == overlay.AvoidPolygons {
		if avoid.Others, err = answer.RoadLines(c.Context, cat); err != nil {
			return err
		}
	}
	gaps, err := answer.RouteGaps(c.Context, cat, c.String("route"))
	if err != nil {
		return err
	}
	err = s.toOutput(c, func(w io.Writer) error {
		switch what {
		case "holds":
			return overlay.HoldsOverlay(w, es, class)
		case "avoid":
			return overlay.AvoidOverlay(w, es, class, avoid)
		}
		return overlay.DescentsOverlay(w, es)
	})
	if err != nil {
		return err
	}
	return s.sayGaps(gaps)
}

var avoidShapes = map[string]overlay.AvoidShape{"line": overlay.AvoidLines, "polygon": overlay.AvoidPolygons}

// signsOverlay writes the scheduled signs as points.
func (s *session) signsOverlay(c *cli.Context) error {
	plan, err := signPlan(c)
	if err != nil {
		return err
	}
	cat, es, err := chosen(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	a, err := answer.NewSigns(c.Context, cat, es, plan)
	if err != nil {
		return err
	}
	return s.toOutput(c, a.WriteOverlay)
}

// sitesOverlay writes the sites of the catalogue.
func (s *session) sitesOverlay(c *cli.Context) error {
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	a, err := answer.ListSites(c.Context, cat, c.String("route"))
	if err != nil {
		return err
	}
	return s.toOutput(c, a.WriteOverlay)
}
