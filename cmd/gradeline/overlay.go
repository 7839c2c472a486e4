package main

import (
	"slices"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/overlay"
	"gradeline/cmd/commandline"
)

func (s *session) overlayCommand() *cli.Command {
	return &cli.Command{
		Name: "overlay", Usage: "RFC 7946 GeoJSON of the catalogue, for any map",
		ArgsUsage: "descents | holds | avoid | edges | signs | sites | practice",
		Flags: append(filterFlags(), outFlag(), forceFlag(),
			rulesFlag(), approachFlag(), marginFlag(), nearFlag(), withinFlag(),
			&cli.StringFlag{Name: "shape", Value: "polygon", Usage: "`SHAPE` of the avoid overlay: line, which closes one direction, or polygon, which closes both"},
			&cli.StringFlag{Name: "width", Value: "10m", Usage: "`WIDTH` of the polygons of the avoid overlay, as in 10m"}),
		Action: s.overlay,
	}
}

func (s *session) overlay(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 1, "one of: descents, holds, avoid, edges, signs, sites, practice"); err != nil {
		return err
	}
	r, err := overlayRequest(c)
	if err != nil {
		return err
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	o, err := answer.NewOverlay(c.Context, cat, r)
	if err != nil {
		return err
	}
	if err := s.toOutput(c, o.WriteGeoJSON); err != nil {
		return err
	}
	return s.sayGaps(o.Gaps())
}

// overlayRequest reads the command line.
func overlayRequest(c *cli.Context) (answer.OverlayRequest, error) {
	r := answer.OverlayRequest{Kind: c.Args().First(), File: c.String("o"), Class: c.String("class")}
	if kinds := answer.OverlayKinds(); !slices.Contains(kinds, r.Kind) {
		return r, usagef("overlay has no %q%s; use %s", r.Kind, commandline.DidYouMean(r.Kind, kinds), commandline.Listed(kinds))
	}
	if answer.IsOverlayOfClass(r.Kind) && r.Class == "" {
		return r, usagef("overlay %s needs --class; gradeline classes list shows them", r.Kind)
	}
	var err error
	if r.Avoid.Shape, err = overlay.ParseAvoidShape(c.String("shape")); err != nil {
		return r, usagef("--shape %v", err)
	}
	if r.Avoid.WidthM, err = commandline.Preset(c, "width", catalog.LengthM); err != nil {
		return r, err
	}
	if r.Filter, err = filter(c); err != nil {
		return r, err
	}
	switch r.Kind {
	case "signs":
		r.Signs, err = signPlan(c)
	case "practice":
		r.Practice, err = practiceOptions(c)
	}
	return r, err
}
