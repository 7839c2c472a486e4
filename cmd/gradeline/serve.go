package main

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"os/exec"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/serve"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
)

func (s *session) serveCommand() *cli.Command {
	return &cli.Command{
		Name: "serve", Usage: "the office's page: the catalogue in a browser, on this machine",
		Flags: append(append(terrainFlags(), catalogFlag(), classesFlag(), unitsFlag()),
			&cli.StringFlag{Name: "addr", Value: "127.0.0.1:8642", Usage: "`HOST:PORT` to answer on; port 0 picks a free one"},
			&cli.BoolFlag{Name: "open", Usage: "open the page in the user's browser"}),
		Action: s.serve,
	}
}

func (s *session) serve(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	classes, err := loadClasses(c)
	if err != nil {
		return err
	}
	l, err := listen(c)
	if err != nil {
		return err
	}
	o := serve.Options{Open: s.opener(c, classes), Classes: classes, Units: u, Hosts: serve.HostsOf(l.Addr()), Failed: func(err error) { s.say("serve: %v", err) }}
	if len(c.StringSlice("terrain")) > 0 {
		surface, err := openTerrain(c)
		if err != nil {
			l.Close()
			return err
		}
		defer surface.Close()
		o.Terrain = surface
	}
	server, err := serve.New(c.Context, o)
	if err != nil {
		l.Close()
		return err
	}
	address := fmt.Sprintf("http://%s/?token=%s", l.Addr(), url.QueryEscape(server.Token()))
	fmt.Fprintln(s.out, address)
	if c.Bool("open") {
		if err := exec.CommandContext(c.Context, "xdg-open", address).Start(); err != nil {
			s.say("no browser opens (%v): open the address above", err)
		}
	}
	return server.Serve(c.Context, l)
}

// listen takes the address; another than this machine's is refused.
func listen(c *cli.Context) (net.Listener, error) {
	l, err := net.Listen("tcp", c.String("addr"))
	if err != nil {
		return nil, usagef("--addr %s: %v", c.String("addr"), err)
	}
	if !serve.IsLocal(l.Addr()) {
		l.Close()
		return nil, usagef("--addr %s is not this machine's own; use 127.0.0.1 or [::1]", c.String("addr"))
	}
	return l, nil
}

// opener opens the catalogue for the page, its holds in question where a class has
// changed since.
func (s *session) opener(c *cli.Context, classes []vehicle.Class) func(context.Context, bool) (*store.Catalog, error) {
	now := vehicle.Fingerprints(classes)
	return func(ctx context.Context, forChange bool) (*store.Catalog, error) {
		cat, err := store.Open(ctx, c.String("catalog"), store.Options{ReadOnly: !forChange, Tool: "gradeline " + version})
		if err == nil {
			cat.QuestionHolds(func(holds []catalog.Hold) string { return vehicle.WhyAnyStale(holds, now) })
		}
		return cat, err
	}
}
