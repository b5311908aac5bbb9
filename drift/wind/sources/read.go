package sources

import (
	"bufio"
	"bytes"
	"io"
	"regexp"
	"strings"

	"windfall/geo/textin"
)

// Read reads a wind source, telling its kind by its content: levels in CSV,
// METAR or SPECI, radiosonde soundings (IGRA version 2, and the CSV and JSON of
// two archives), an hourly forecast in JSON. name is for messages. A source
// that cannot give a wind for the launch is an error "name:line: what is
// wrong"; what a flier may still want to go on with is a warning in the report.
func Read(name string, r io.Reader, opt Options) (Report, error) {
	in, err := textin.Reader(r, name)
	if err != nil {
		return Report{}, err
	}
	head, err := in.Peek(4096)
	if err != nil && err != io.EOF {
		return Report{}, at(name, 1, "%v", err)
	}
	rep, err := read(name, in, head, opt)
	if err != nil {
		return Report{}, err
	}
	rep.spreads()
	return rep, nil
}

func read(name string, in *bufio.Reader, head []byte, opt Options) (Report, error) {
	text := strings.TrimSpace(string(head))
	first := firstLine(string(head))
	switch {
	case text == "":
		return Report{}, at(name, 1, "is empty; give levels in CSV, a METAR, a sounding or a forecast")
	case bytes.IndexByte(head, 0) >= 0:
		return Report{}, at(name, 1, "is not text; unpack it first if it is an archive")
	case text[0] == '{' || text[0] == '[' || strings.HasPrefix(text, "NaN"):
		return readJSON(name, in, opt)
	case strings.HasPrefix(text, "<"):
		return Report{}, at(name, 1, "is a web page, not wind; save the data itself (CSV or JSON)")
	case igraStart.MatchString(first):
		return readIGRA(name, in, opt)
	case isArchiveHeading(first):
		return readArchiveCSV(name, in, opt)
	case looksLikeReport(text):
		return readMETAR(name, in, opt)
	}
	if opt.Balloon || isBalloonHeading(firstRow(string(head))) {
		return readBalloon(name, in, opt)
	}
	return readCSV(name, in, opt)
}

var igraStart = regexp.MustCompile(`^#[A-Z]{2}[A-Z0-9]{9} [ 0-9]{4} [ 0-9]{2}`)

// firstLine returns the first line that is not blank.
func firstLine(s string) string {
	for line := range strings.Lines(s) {
		if strings.TrimSpace(line) != "" {
			return strings.TrimRight(line, "\r\n")
		}
	}
	return ""
}

func readJSON(name string, in io.Reader, opt Options) (Report, error) {
	doc, err := parseJSON(name, in)
	if err != nil {
		return Report{}, err
	}
	switch {
	case doc.get("profiles") != nil:
		return readArchiveJSON(name, doc, opt)
	case doc.get("hourly") != nil || doc.get("error") != nil || (len(doc.arr) > 0 && doc.arr[0].get("hourly") != nil):
		return readForecast(name, doc, opt)
	}
	return Report{}, at(name, doc.line,
		"is JSON with neither profiles (a sounding) nor hourly (a forecast); fetch one of these")
}
