package sources

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"
)

// Service is the forecast service asked where none is named.
const Service = "https://api.open-meteo.com/v1/forecast"

// FetchTimeout is how long Fetch waits in all where its client sets no limit.
const FetchTimeout = 20 * time.Second

const maxAnswer = 16 << 20 // bytes

// Request says which forecast to fetch.
type Request struct {
	Service   string    // base URL; empty: Service
	Place     orb.Point // the pad
	When      time.Time // launch
	Elevation *float64  // pad, m above mean sea level; nil: the service's own
	Client    *http.Client
}

// Offline is the error of a service that cannot be reached.
type Offline struct {
	Host string
	Err  error
}

func (o *Offline) Error() string {
	return fmt.Sprintf("cannot reach %s (%s); without a network give a forecast saved before, an airport report or "+
		"levels by hand", o.Host, o.Err)
}

// Unwrap gives the network's error.
func (o *Offline) Unwrap() error { return o.Err }

// Check tells whether the request can be asked at all.
func (q Request) Check() error {
	_, err := q.url()
	return err
}

// Fetch asks the service for the hourly wind of the launch's UTC day and the
// next at the place and returns its raw answer, which Read has accepted for the
// launch. An answer that cannot be used is an error; so is one larger than
// 16 MB or later than the client's timeout (FetchTimeout by default).
func Fetch(ctx context.Context, q Request) ([]byte, error) {
	u, err := q.url()
	if err != nil {
		return nil, err
	}
	client := q.Client
	if client == nil {
		client = &http.Client{Timeout: FetchTimeout}
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, u.String(), nil)
	if err != nil {
		return nil, err
	}
	req.Header.Set("Accept", "application/json")
	resp, err := client.Do(req)
	if err != nil {
		return nil, offline(ctx, u.Host, err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(io.LimitReader(resp.Body, maxAnswer+1))
	switch {
	case err != nil:
		return nil, offline(ctx, u.Host, err)
	case len(body) > maxAnswer:
		return nil, fmt.Errorf("%s answered with more than %d MB; nothing was saved", u.Host, maxAnswer>>20)
	case resp.StatusCode != http.StatusOK:
		return nil, fmt.Errorf("%s answered %s%s; nothing was saved", u.Host, resp.Status, reason(body))
	}
	if _, err := Read(u.Host, bytes.NewReader(body), Options{When: q.When, Elevation: q.Elevation}); err != nil {
		return nil, fmt.Errorf("the answer cannot be used and was not saved: %w", err)
	}
	return body, nil
}

// offline tells a cancelled run from a network that does not answer.
func offline(ctx context.Context, host string, err error) error {
	if ctx.Err() == context.Canceled {
		return ctx.Err()
	}
	var ue *url.Error
	if errors.As(err, &ue) {
		err = ue.Err // without the long URL
	}
	var ne net.Error
	if errors.As(err, &ne) && ne.Timeout() {
		err = errors.New("no answer in time")
	}
	return &Offline{host, err}
}

// reason finds what the service says is wrong.
func reason(body []byte) string {
	doc, err := parseJSON("", bytes.NewReader(body))
	if err != nil || doc.get("reason").text() == "" {
		return ""
	}
	return ": " + strings.Join(strings.Fields(clipAt(doc.get("reason").text(), 200)), " ")
}

// The heights and pressure levels asked for: to some 5.5 km.
var (
	heights   = []string{"10m", "80m", "120m", "180m"}
	pressures = []string{"1000hPa", "975hPa", "950hPa", "925hPa", "900hPa", "850hPa", "800hPa", "700hPa", "600hPa",
		"500hPa"}
)

func (q Request) url() (*url.URL, error) {
	base := q.Service
	if base == "" {
		base = Service
	}
	u, err := url.Parse(base)
	if err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Host == "" {
		return nil, fmt.Errorf("service %q is no address; write one such as %s", base, Service)
	}
	if q.When.IsZero() {
		return nil, errors.New("a forecast needs the launch time; write one such as 2026-03-14T10:30:00+01:00")
	}
	vars := []string{"temperature_2m", "pressure_msl", "wind_gusts_10m"}
	for _, h := range heights {
		vars = append(vars, "wind_speed_"+h, "wind_direction_"+h)
	}
	for _, p := range pressures {
		vars = append(vars, "wind_speed_"+p, "wind_direction_"+p, "geopotential_height_"+p)
	}
	day := q.When.UTC()
	v := u.Query()
	v.Set("latitude", strconv.FormatFloat(q.Place[1], 'f', 5, 64))
	v.Set("longitude", strconv.FormatFloat(q.Place[0], 'f', 5, 64))
	if q.Elevation != nil {
		v.Set("elevation", strconv.FormatFloat(*q.Elevation, 'f', 0, 64))
	}
	v.Set("hourly", strings.Join(vars, ","))
	v.Set("wind_speed_unit", "ms")
	v.Set("timezone", "GMT")
	v.Set("start_date", day.Format(time.DateOnly))
	v.Set("end_date", day.AddDate(0, 0, 1).Format(time.DateOnly))
	u.RawQuery = v.Encode()
	return u, nil
}

// clipAt shortens text to n bytes.
func clipAt(s string, n int) string {
	if len(s) > n {
		return s[:n] + "..."
	}
	return s
}
