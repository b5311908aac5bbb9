package page

import (
	_ "embed"
	"encoding/json"
	"net/http"

	"windfall/cmd/windfall/internal/flightfile"
)

// keysJSON groups the keys of a flight file as a person thinks of them, with
// words for each; what a key means and may be is flightfile's.
//
//go:embed keys.json
var keysJSON []byte

// keysDoc is the form: groups of keys, and the units a value may have.
type keysDoc struct {
	Units  json.RawMessage `json:"units"`
	Groups []keyGroup      `json:"groups"`
}

type keyGroup struct {
	Title    string            `json:"title"`
	Help     string            `json:"help,omitempty"`
	List     string            `json:"list,omitempty"`
	Item     string            `json:"item,omitempty"`
	Add      string            `json:"add,omitempty"`
	New      map[string]string `json:"new,omitempty"`
	Wind     bool              `json:"wind,omitempty"`
	Measured bool              `json:"measured,omitempty"`
	Fields   []keyField        `json:"fields"`
}

type keyField struct {
	Key     string   `json:"key"`
	Label   string   `json:"label"`
	Kind    string   `json:"kind"`
	Example string   `json:"example,omitempty"`
	Help    string   `json:"help,omitempty"`
	Choices []string `json:"choices,omitempty"`
}

// formKeys reads the form and adds what flightfile says of each key.
func formKeys() (*keysDoc, error) {
	d := &keysDoc{}
	if err := json.Unmarshal(keysJSON, d); err != nil {
		return nil, err
	}
	for gi, g := range d.Groups {
		for fi := range g.Fields {
			f := &d.Groups[gi].Fields[fi]
			k := flightfile.KeyAt(g.path(f.Key))
			if k == nil {
				continue
			}
			if f.Example == "" {
				f.Example = k.Example
			}
			if f.Help == "" {
				f.Help = k.Says
				if k.LeftOut != "" {
					f.Help += "; left out: " + k.LeftOut
				}
			}
		}
	}
	return d, nil
}

// path is the path in a flight file of a key of the group.
func (g keyGroup) path(key string) string {
	switch {
	case g.List != "":
		return g.List + "[0]." + key
	case g.Measured:
		return "wind.measured." + key
	}
	return key
}

func (s *Server) getKeys(*http.Request) (any, error) { return formKeys() }
