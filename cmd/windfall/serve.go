package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
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
			if path, err = flightToServe(path, c.String("pad"), e); err != nil {
				return err
			}
			s, err := page.New(page.Options{
				Flight: path, Logbook: readLogbook(e, c), NoLearning: c.Bool("no-learning"), Flags: flagsGiven(c),
				Base: c.String("map"), Credit: c.String("map-credit"), Shared: c.String("listen") != "", Now: e.now,
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

// flightToServe returns the flight file at a path, or makes a demo's folder
// where there is nothing.
func flightToServe(path, pad string, e env) (string, error) {
	st, err := os.Stat(path)
	switch {
	case err == nil && !st.IsDir():
		return path, nil
	case err == nil:
		file := filepath.Join(path, "flight.yaml")
		if _, err := os.Stat(file); err == nil {
			return file, nil
		}
		if es, err := os.ReadDir(path); err == nil && len(es) > 0 {
			return "", usage.Errorf("%s: holds no flight.yaml; name a flight file, or a folder to make", path)
		}
	case !errors.Is(err, os.ErrNotExist):
		return "", usage.Errorf("%s: %v", path, err)
	case strings.HasSuffix(path, ".yaml") || strings.HasSuffix(path, ".yml"):
		return "", usage.Errorf("%s: no such file; name a flight file, or a folder to make", path)
	}
	start, err := newflight.From(pad, "metric")
	if err != nil {
		return "", err
	}
	files, err := start.Write(path, e.now())
	if err != nil {
		return "", err
	}
	return files[0], newflight.AddPractice(files[0])
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
	url := "http://" + reached(l.Addr())
	fmt.Fprintf(e.out, "page: %s%s\n", url, s.HostPath())
	if code := s.JoinCode(); code != "" {
		fmt.Fprintf(e.out, "others open %s/ and type the join code %s\n", url, code)
	}
	if open {
		openBrowser(url + s.HostPath())
	}
	return s.Serve(ctx, l)
}

// reached is the address by which a listener is reached: one of this machine's
// own where it listens on all.
func reached(a net.Addr) string {
	host, port, err := net.SplitHostPort(a.String())
	if err != nil {
		return a.String()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
		addrs, _ := net.InterfaceAddrs() // none: loopback still serves
		for _, x := range addrs {
			if n, ok := x.(*net.IPNet); ok && n.IP.To4() != nil && !n.IP.IsLoopback() {
				host = n.IP.String()
				break
			}
		}
	}
	return net.JoinHostPort(host, port)
}

// openBrowser opens an address as the desktop does; where there is none, the
// line that was printed serves.
func openBrowser(url string) {
	name, args := "xdg-open", []string{url}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", url}
	}
	if cmd := exec.Command(name, args...); cmd.Start() == nil {
		go cmd.Wait() // nothing hangs on how the browser ends
	}
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
