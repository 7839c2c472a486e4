package main

import (
	"errors"
	"runtime/debug"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/survey"
	"gradeline/catalog/wholefile"
	"gradeline/cmd/commandline"
)

func (s *session) surveyCommand() *cli.Command {
	return &cli.Command{
		Name: "survey", Usage: "find the descents of road lines, work out the advice for every weight class, store both",
		ArgsUsage: "ROUTES...",
		Flags:     surveyFlags(),
		Action:    s.survey,
	}
}

// surveySetup reads the command line.
func (s *session) surveySetup(c *cli.Context) (survey.Setup, error) {
	var setup survey.Setup
	if err := commandline.CountArgs(c, 1, -1, "at least one file of routes"); err != nil {
		return setup, err
	}
	if setup.Terrain, setup.Roads = inputs(c); len(setup.Roads) == 0 {
		return setup, usagef("survey needs at least one file of routes in addition to the terrain")
	}
	classes, kept, err := surveyFleet(c)
	if err != nil {
		return setup, err
	}
	if setup.Options, err = s.surveyOptions(c, classes); err != nil {
		return setup, err
	}
	if setup.Weather, err = weather(c, false); err != nil {
		return setup, err
	}
	if len(setup.Terrain) == 0 && len(c.StringSlice("drives")) == 0 {
		return setup, noTerrain(c)
	}
	if len(setup.Terrain) == 0 {
		s.say("%s", survey.AloneWords)
	}
	if setup.Raster, err = rasterOptions(c); err != nil {
		return setup, err
	}
	if setup.Part, err = shardOf(c, setup.Roads); err != nil {
		return setup, err
	}
	if setup.Lines, err = networkOptions(c, s.roadOptions(c)); err != nil {
		return setup, err
	}
	setup.Fleet = kept
	setup.AsDrawn, setup.Catalog, setup.Tool = c.Bool("as-drawn"), c.String("catalog"), "gradeline "+version
	setup.DrivePaths = c.StringSlice("drives")
	if setup.DrivesAreBarometric, err = drivesAreBarometric(c); err != nil {
		return setup, err
	}
	setup.By, setup.Invented, setup.AcceptMoves = c.String("by"), c.Bool("invented"), c.Bool("accept-moves")
	setup.Credit = strings.TrimSpace(c.String("terrain-credit"))
	setup.DryRun, setup.Afresh = c.Bool("dry-run"), c.Bool("afresh")
	setup.KeepAll, setup.KeepProfile = c.Bool("json"), c.String("profile") != "" && !setup.DryRun
	if file := c.String("profile"); setup.KeepProfile {
		if err = notAnInput(c, file); err == nil {
			err = wholefile.CheckTarget(file, c.Bool("force"))
		}
	}
	return setup, err
}

func (s *session) survey(c *cli.Context) error {
	switch {
	case c.Bool("spread"):
		return s.spread(c)
	case c.Bool("watch"):
		return s.watch(c)
	}
	setup, err := s.surveySetup(c)
	if err != nil {
		return err
	}
	bar := s.newProgress("surveying, routes done")
	setup.OnRoute, setup.Waiting = bar.step, s.tellWaiting(bar.end)
	job, err := survey.Begin(c.Context, setup)
	if err != nil {
		return err
	}
	defer job.Close()
	if setup.MemoryBytes > 0 {
		debug.SetMemoryLimit(survey.HeapBytes(setup.MemoryBytes, setup.Raster.CacheBytes))
		s.say("%s", job.Memory())
	}
	if words := job.EarlierWords(); words != "" {
		s.say("%s", words)
	}
	err = job.Run(c.Context)
	bar.end()
	if err != nil {
		if e := job.NotKept(); e != nil && !errors.Is(err, e) {
			s.say("gradeline: %v", e)
		}
		if words := job.HowToContinue(); words != "" {
			s.say("gradeline: %s", words)
		}
		return err
	}
	err = s.surveyAnswer(c, job, setup.Units)
	if err != nil && !errors.Is(err, errGaps) {
		job.KeepForLater()
		s.say("gradeline: the finished routes are kept; run the same command again to continue")
	}
	return err
}

// surveyAnswer writes the profile file, the table or the JSON object, and names warnings
// and gaps.
func (s *session) surveyAnswer(c *cli.Context, job *survey.Job, u catalog.Units) error {
	if file := c.String("profile"); file != "" && !c.Bool("dry-run") {
		if err := wholefile.WriteFile(file, c.Bool("force"), job.WriteProfile); err != nil {
			return err
		}
	}
	isWhole, err := answer.WriteSurvey(s.out, job, c.Bool("json"), u, func(words string) { s.say("%s", words) })
	if err == nil && !isWhole {
		err = errGaps
	}
	return err
}
