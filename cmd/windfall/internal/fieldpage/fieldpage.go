// Package fieldpage writes a search plan as one page that needs no server and
// no network: search.html, to be sent in a message or carried on a memory card.
// Its parts, static, are made from page/web by build.sh; the plan comes in as
// mapfile.Chart. The page's own policy lets nothing be loaded from anywhere.
package fieldpage

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"html/template"
	"io"

	"windfall/geo/mapfile"
)

// Plan is what a page is made for.
type Plan struct {
	Key    string // of the plan's inputs: what is ticked is kept under it
	Flight string // the flight file, as the page tells to log a track for it
	Only   string // the one searcher whose page it is; "": all
}

//go:embed static/search.html
var shell string

//go:embed static/search.js
var script string

//go:embed static/search.css
var style string

var page = template.Must(template.New("search").Parse(shell))

// Write writes the page of l, which has a plan; over its base map, where it has
// one.
func Write(w io.Writer, l *mapfile.Landing, p Plan) error {
	chart := mapfile.ChartOf(l)
	under, err := groundOf(l, chart)
	if err != nil {
		return err
	}
	doc, err := json.Marshal(struct {
		Plan   string         `json:"plan"`
		Flight string         `json:"file"`
		Only   string         `json:"only"`
		Base   *ground        `json:"base,omitempty"`
		Chart  *mapfile.Chart `json:"chart"`
	}{p.Key, p.Flight, p.Only, under, chart})
	if err != nil {
		return err
	}
	return page.Execute(w, struct {
		Title                 string
		Script, Doc           template.JS
		Style                 template.CSS
		ScriptHash, StyleHash string
		Told                  []mapfile.Told
	}{l.Title, template.JS(script), template.JS(doc), template.CSS(style), hash(script), hash(style), mapfile.Tell(l)})
}

// Append adds the page of l to files, as search.html.
func Append(files []mapfile.File, l *mapfile.Landing, p Plan) ([]mapfile.File, error) {
	var b bytes.Buffer
	if err := Write(&b, l, p); err != nil {
		return nil, err
	}
	return append(files, mapfile.File{Name: "search.html", Data: b.Bytes()}), nil
}

// hash is a source as a content security policy names it (CSP level 2).
func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}
