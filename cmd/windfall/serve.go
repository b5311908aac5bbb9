package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/certificate"
	"windfall/cmd/windfall/internal/newflight"
	"windfall/cmd/windfall/internal/page"
	"windfall/cmd/windfall/internal/usage"
)

func serveCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "serve", Usage: "the flight as a page: on a map, to be changed by hand", ArgsUsage: "FLIGHT",
		Flags: append(flightFlags(), append(words("listen", "map", "map-credit", "pad", "tls-cert", "tls-key"),
			switches("no-browser", "tls")...)...),
		Action: func(c *cli.Context) error {
			path, err := onlyArgument(c, "a flight file, or a folder to make")
			if err != nil {
				return err
			}
			q, err := readSharing(e, c)
			if err != nil {
				return err
			}
			if path, err = newflight.OrOpen(path, c.String("pad"), e.now()); err != nil {
				return err
			}
			return servePage(c.Context, e, q, page.Options{
				Flight: path, Logbook: readLogbook(e, c), NoLearning: c.Bool("no-learning"), Flags: flagsGiven(c),
				Base: c.String("map"), Credit: c.String("map-credit"), Shared: q.listen != "", Now: e.now,
				Names: q.names, Version: version, Sessions: sessionsFile(readLogbook(e, c), path), Run: e.runCommand,
			})
		},
	}
}

// sharing says where a page is seen.
type sharing struct {
	listen    string // address and port; "": this machine alone
	open      bool   // a browser
	tls       bool   // by a certificate of our own making, kept in dir
	cert, key string // files of another certificate; "": none
	names     []string
	dir       string
}

func readSharing(e env, c *cli.Context) (sharing, error) {
	q := sharing{listen: c.String("listen"), open: !c.Bool("no-browser"), tls: c.Bool("tls"), cert: c.String("tls-cert"),
		key: c.String("tls-key"), dir: filepath.Join(filepath.Dir(readLogbook(e, c)), "tls")}
	if q.listen != "" {
		q.names = localNames()
	}
	switch {
	case (q.cert == "") != (q.key == ""):
		return q, usage.Errorf("--tls-cert and --tls-key belong together; give both")
	case q.cert != "" && q.tls:
		return q, usage.Errorf("--tls makes a certificate and --tls-cert names one; give one of them")
	}
	return q, nil
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
func servePage(ctx context.Context, e env, q sharing, o page.Options) error {
	address := "127.0.0.1:0"
	if q.listen != "" {
		address = q.listen
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return usage.Errorf("--listen %q: %v; write an address of this machine and a free port, such as 0.0.0.0:8080",
			q.listen, err)
	}
	defer l.Close()
	secret, fingerprint, err := q.secure(&o, l.Addr(), e.now())
	if err != nil {
		return err
	}
	s, err := page.New(o)
	if err != nil {
		return err
	}
	defer s.Close()
	url := page.URL(l.Addr(), o.TLS)
	fmt.Fprintf(e.out, "page: %s%s\n", url, s.HostPath())
	if code := s.JoinCode(); code != "" {
		fmt.Fprintf(e.out, "others open %s/ and type the join code %s\n", url, code)
		if fingerprint != "" {
			fmt.Fprintf(e.out, "phones trust it by %s/ca.crt, SHA-256 %s\n", url, fingerprint)
		}
		if e.terminal {
			fmt.Fprint(e.out, page.QR(url, code))
		}
	}
	if q.open {
		page.OpenBrowser(url + s.HostPath())
	}
	if secret != nil {
		l = tls.NewListener(l, secret)
	}
	return s.Serve(ctx, l)
}

// localNames are those by which multicast DNS (RFC 6762) finds this machine: they
// stay where addresses change.
func localNames() []string {
	name, err := os.Hostname()
	name, _, _ = strings.Cut(strings.ToLower(name), ".")
	if err != nil || !hostLabel.MatchString(name) {
		return nil
	}
	return []string{name + ".local"}
}

var hostLabel = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?$`)

// secure readies TLS, where it is asked for: with a certificate of our own
// making, whose authority has the fingerprint, or with another.
func (q sharing) secure(o *page.Options, at net.Addr, now time.Time) (secret *tls.Config, fingerprint string,
	err error) {
	var pair tls.Certificate
	switch {
	case q.cert != "":
		if pair, err = tls.LoadX509KeyPair(q.cert, q.key); err != nil {
			return nil, "", usage.Errorf("--tls-cert %s, --tls-key %s: %v; give PEM files of a certificate and its key",
				q.cert, q.key, err)
		}
		o.Names = append(o.Names, pair.Leaf.DNSNames...)
	case q.tls:
		a, err := certificate.Open(q.dir, now)
		if err != nil {
			return nil, "", usage.Mark(err)
		}
		if pair, err = a.For(page.Host(at), page.Addresses(at), q.names, now); err != nil {
			return nil, "", usage.Mark(err)
		}
		o.Authority, fingerprint = a.DER, a.Fingerprint()
	default:
		return nil, "", nil
	}
	o.TLS = true
	return &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}, fingerprint, nil
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
