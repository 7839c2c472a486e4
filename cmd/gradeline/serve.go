package main

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"strings"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"gradeline/catalog/answer"
	"gradeline/catalog/serve"
	"gradeline/catalog/shared"
	"gradeline/catalog/spread"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
)

func (s *session) serveCommand() *cli.Command {
	return &cli.Command{
		Name: "serve", Usage: "the office's page: the catalogue in a browser, on this machine",
		ArgsUsage: "[users add NAME]",
		Flags: append(append(terrainFlags(), catalogFlag(), queueFlag(), classesFlag(), unitsFlag()),
			&cli.StringFlag{Name: "addr", Value: "127.0.0.1:8642", Usage: "`HOST:PORT` to answer on; port 0 chooses a free one"},
			&cli.BoolFlag{Name: "open", Usage: "open the page in the user's browser"},
			&cli.StringSliceFlag{Name: "files", Usage: "`FOLDER` of road files that may be surveyed from the page; needs --terrain; may be given several times"},
			&cli.StringFlag{Name: "users", Usage: "`FILE` of people with passwords, made by serve users add NAME; they sign in"},
			&cli.StringFlag{Name: "proxy", Usage: "`ADDRESS` of a reverse proxy that names the visitor in X-Forwarded-User"},
			&cli.StringSliceFlag{Name: "host", Usage: "host `NAME` of the page in browsers, in addition to the address; may be given several times"},
			&cli.StringFlag{Name: "tls-cert", Usage: "certificate `FILE` (PEM), for an address beyond this machine"},
			&cli.StringFlag{Name: "tls-key", Usage: "key `FILE` (PEM) of the certificate"}),
		Action: s.serve,
	}
}

func (s *session) serve(c *cli.Context) error {
	if c.Args().First() == "users" {
		return s.addUser(c)
	}
	if err := commandline.CountArgs(c, 0, 0, "no arguments, or users add NAME"); err != nil {
		return err
	}
	o, err := serveOptions(c)
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", c.String("addr"))
	if err != nil {
		return usagef("--addr %s: %v", c.String("addr"), err)
	}
	defer l.Close()
	if !o.MayAnswerOn(l.Addr()) {
		return usagef("--addr %s is not this machine's own: it needs --users with --tls-cert and --tls-key, or --proxy", c.String("addr"))
	}
	o.Hosts = serve.HostsOf(l.Addr(), c.StringSlice("host")...)
	o.Open = s.opener(c, o.Classes)
	o.Failed = func(err error) { s.say("serve: %v", err) }
	defer shared.WatchInBackground(c.Context, c.String("catalog"), shared.WatchOptions{Options: store.Options{Tool: "gradeline " + version}, Failed: o.Failed})()
	board := spread.NewBoard(queueAddress(c))
	defer board.Close()
	o.Spread = board.StatusFunc()
	if len(c.StringSlice("terrain")) > 0 {
		surface, err := openTerrain(c)
		if err != nil {
			return err
		}
		defer surface.Close()
		o.Terrain = surface
	}
	if folders := c.StringSlice("files"); len(folders) > 0 {
		if o.Terrain == nil {
			return noTerrain(c)
		}
		o.Work = &serve.Work{Folders: folders, Setup: survey.Setup{Options: survey.Options{Classes: o.Classes, Units: o.Units}, Terrain: c.StringSlice("terrain"), Catalog: c.String("catalog"), Tool: "gradeline " + version}}
		if o.Work.Setup.Raster, err = rasterOptions(c); err != nil {
			return err
		}
	}
	server, err := serve.New(c.Context, o)
	if err != nil {
		return err
	}
	address := server.Address(l.Addr())
	fmt.Fprintln(s.out, address)
	if c.Bool("open") {
		if err := exec.CommandContext(c.Context, "xdg-open", address).Start(); err != nil {
			s.say("the browser cannot be started (%v): open the address above", err)
		}
	}
	return server.Serve(c.Context, l)
}

// serveOptions reads the options of visitors and their admission.
func serveOptions(c *cli.Context) (o serve.Options, err error) {
	if o.Units, err = units(c); err != nil {
		return o, err
	}
	if o.Classes, err = loadClasses(c); err != nil {
		return o, err
	}
	if path := c.String("users"); path != "" {
		if o.Users, err = serve.OpenUsers(path); err != nil {
			return o, err
		}
	}
	if text := c.String("proxy"); text != "" {
		if o.Proxy = net.ParseIP(text); o.Proxy == nil || len(c.StringSlice("host")) == 0 {
			return o, usagef("--proxy %q: write the proxy's IP address, and add --host with its name in browsers", text)
		}
	}
	if c.IsSet("tls-cert") || c.IsSet("tls-key") {
		if o.TLS, err = serve.LoadTLS(c.String("tls-cert"), c.String("tls-key")); err != nil {
			return o, usagef("--tls-cert and --tls-key: %v", err)
		}
	}
	return o, nil
}

// addUser adds a person to a file of users; the password is read from the terminal or as a line of
// standard input.
func (s *session) addUser(c *cli.Context) error {
	if c.NArg() != 3 || c.Args().Get(1) != "add" || c.String("users") == "" {
		return usagef("serve users takes add, a name and --users FILE")
	}
	f, ok := s.in.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		line, _ := bufio.NewReader(s.in).ReadString('\n') // the last line may lack a line end
		return serve.AddUser(c.String("users"), c.Args().Get(2), strings.TrimRight(line, "\r\n"))
	}
	fmt.Fprint(s.err, "password: ")
	b, err := term.ReadPassword(int(f.Fd()))
	fmt.Fprintln(s.err)
	if err != nil {
		return err
	}
	return serve.AddUser(c.String("users"), c.Args().Get(2), string(b))
}

// opener returns the function that opens the catalogue for the page.
func (s *session) opener(c *cli.Context, classes []vehicle.Class) func(context.Context, bool) (*store.Catalog, error) {
	return func(ctx context.Context, forChange bool) (*store.Catalog, error) {
		return answer.OpenCatalog(ctx, c.String("catalog"), store.Options{ReadOnly: !forChange, Tool: "gradeline " + version}, classes)
	}
}
