package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/newflight"
	"windfall/cmd/windfall/internal/page"
	"windfall/cmd/windfall/internal/usage"
)

func serveCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "serve", Usage: "the flight as a page: on a map, to be changed by hand", ArgsUsage: "FLIGHT",
		Flags: append(flightFlags(), append(words("listen", "map", "map-credit", "pad"), switches("no-browser")...)...),
		Action: func(c *cli.Context) error {
			path, err := onlyArgument(c, "a flight file, or a folder to make")
			if err != nil {
				return err
			}
			if path, err = newflight.OrOpen(path, c.String("pad"), e.now()); err != nil {
				return err
			}
			s, err := page.New(page.Options{
				Flight: path, Logbook: readLogbook(e, c), NoLearning: c.Bool("no-learning"), Flags: flagsGiven(c),
				Base: c.String("map"), Credit: c.String("map-credit"), Shared: c.String("listen") != "", Now: e.now,
				Version: version, Sessions: sessionsFile(readLogbook(e, c), path),
				Run: e.runCommand,
			})
			if err != nil {
				return err
			}
			defer s.Close()
			return servePage(c.Context, e, s, c.String("listen"), !c.Bool("no-browser"))
		},
	}
}

// sessionsFile is where a served flight keeps who has come in: beside the
// logbook, a file for each flight file.
func sessionsFile(logbook, flight string) string {
	if abs, err := filepath.Abs(flight); err == nil {
		flight = abs
	}
	sum := sha256.Sum256([]byte(flight))
	return filepath.Join(filepath.Dir(logbook), fmt.Sprintf("sessions-%x.json", sum[:6]))
}

// flagsGiven are those of flightFlags that were given, for other commands.
func flagsGiven(c *cli.Context) (out []string) {
	if p := c.String("logbook"); p != "" {
		out = append(out, "--logbook", p)
	}
	if c.Bool("no-learning") {
		out = append(out, "--no-learning")
	}
	return out
}

// servePage listens and says where: on loopback and a free port, or where the
// person at the laptop wants others to come in with the join code.
func servePage(ctx context.Context, e env, s *page.Server, listen string, open bool) error {
	address := "127.0.0.1:0"
	if listen != "" {
		address = listen
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return usage.Errorf("--listen %q: %v; write an address of this machine and a free port, such as 0.0.0.0:8080",
			listen, err)
	}
	url := "http://" + page.Reached(l.Addr())
	fmt.Fprintf(e.out, "page: %s%s\n", url, s.HostPath())
	if code := s.JoinCode(); code != "" {
		fmt.Fprintf(e.out, "others open %s/ and type the join code %s\n", url, code)
	}
	if open {
		page.OpenBrowser(url + s.HostPath())
	}
	return s.Serve(ctx, l)
}

// runCommand runs a command line of the program for the page.
func (e env) runCommand(ctx context.Context, c page.Command) error {
	var said bytes.Buffer
	code := run(ctx, env{out: c.Out, err: &said, now: e.now, getenv: e.getenv, note: c.Progress}, c.Args)
	if code == 0 {
		return nil
	}
	return errors.New(strings.TrimPrefix(strings.TrimSpace(said.String()), "windfall: "))
}
