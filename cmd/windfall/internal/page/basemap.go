package page

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"path/filepath"
	"strconv"
	"strings"

	"windfall/cmd/windfall/internal/usage"
	"windfall/geo/basemap"
)

// mapDoc says what the base map is.
type mapDoc struct {
	Kind        string         `json:"kind"` // none, tiles or image
	URL         string         `json:"url,omitempty"`
	Attribution string         `json:"attribution,omitempty"`
	MinZoom     int            `json:"min_zoom,omitempty"`
	MaxZoom     int            `json:"max_zoom,omitempty"`
	Bounds      *[2][2]float64 `json:"bounds,omitempty"` // south-west and north-east corners, latitude and longitude
}

// baseMap is the base map that was chosen when the page was served.
type baseMap struct {
	doc     mapDoc
	file    *basemap.Map // nil: none here
	picture string       // path; empty: none
}

const tileURL = "/map/{z}/{x}/{y}"

// openBase opens what --map names.
func openBase(name, credit string) (b baseMap, err error) {
	switch {
	case name == "":
		b.doc.Kind = "none"
		return b, nil
	case strings.Contains(name, "://"):
		b, err = onlineBase(name)
	default:
		b, err = openFile(name)
	}
	if err != nil {
		return b, usage.Errorf("%s: %w", name, err)
	}
	if credit != "" {
		b.doc.Attribution = credit
	}
	return b, nil
}

// openFile takes a file of tiles, or a picture, which the page shows as it is.
func openFile(name string) (b baseMap, err error) {
	if b.file, err = basemap.Open(name); errors.Is(err, basemap.ErrKind) {
		return b, errors.New("is no base map; name a .pmtiles, an .mbtiles, a .png or .jpg with its world file, or an " +
			"address with {z}, {x} and {y}")
	}
	if err != nil {
		return b, err
	}
	b.doc = mapDoc{Kind: "tiles", URL: tileURL, Attribution: b.file.Credit, MinZoom: b.file.MinZoom,
		MaxZoom: b.file.MaxZoom}
	if low, high, ok := b.file.Picture(); ok {
		b.picture = name
		b.doc = mapDoc{Kind: "image", URL: "/map/picture", Attribution: filepath.Base(name),
			Bounds: &[2][2]float64{{low.Lat(), low.Lon()}, {high.Lat(), high.Lon()}},
		}
	}
	return b, nil
}

func (b baseMap) close() {
	if b.file != nil {
		b.file.Close() // it was only read
	}
}

// origin is what the content security policy must let in, with a space before.
func (b baseMap) origin() string {
	u, err := url.Parse(b.doc.URL)
	if err != nil || u.Host == "" {
		return ""
	}
	return " " + u.Scheme + "://" + u.Host
}

func onlineBase(address string) (b baseMap, err error) {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" ||
		strings.ContainsAny(u.Host, " ;,'{}") {
		return b, errors.New("is no address of map tiles; write one such as https://maps.example.org/{z}/{x}/{y}.png")
	}
	for _, k := range []string{"{z}", "{x}", "{y}"} {
		if !strings.Contains(address, k) {
			return b, fmt.Errorf("has no %s; write an address with {z}, {x} and {y}", k)
		}
	}
	b.doc = mapDoc{Kind: "tiles", URL: address, Attribution: "map from " + u.Host, MaxZoom: 19}
	return b, nil
}

func (s *Server) getMap(*http.Request) (any, error) { return s.base.doc, nil }

func (s *Server) getTile(w http.ResponseWriter, r *http.Request) {
	z, err1 := strconv.Atoi(r.PathValue("z"))
	x, err2 := strconv.Atoi(r.PathValue("x"))
	y, err3 := strconv.Atoi(r.PathValue("y"))
	if s.base.file == nil || err1 != nil || err2 != nil || err3 != nil {
		http.NotFound(w, r)
		return
	}
	b, err := s.base.file.Tile(z, x, y)
	if err != nil || b == nil {
		http.NotFound(w, r)
		return
	}
	t := http.DetectContentType(b)
	if !strings.HasPrefix(t, "image/") {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", t)
	w.Header().Set("Cache-Control", "max-age=3600")
	w.Write(b)
}

func (s *Server) getPicture(w http.ResponseWriter, r *http.Request) {
	if s.base.picture == "" {
		http.NotFound(w, r)
		return
	}
	http.ServeFile(w, r, s.base.picture)
}
