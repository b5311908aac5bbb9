// Package help holds the program's help, written by hand: a page for each
// command and a first one, each a screen of plain text. A page says what the
// command is for, its forms, its flags in groups of meaning and, under
// "example", a line that runs as it stands. It knows nothing of the commands;
// their tests hold the pages to their flags and run the examples.
package help

import (
	"embed"
	"regexp"
	"strings"
)

//go:embed text/*.txt
var pages embed.FS

// First is the name of the first page.
const First = "windfall"

// Page returns the page of a command, or the First; ok is false where there
// is none.
func Page(name string) (text string, ok bool) {
	b, err := pages.ReadFile("text/" + name + ".txt")
	return string(b), err == nil
}

var flagWord = regexp.MustCompile(`(?m)(?:^|[\s,(])(--?[a-z][a-z-]*)`)

// Flags returns the names of the flags that a page tells of, with their
// dashes, each once, in order. Those in the forms at its head count too.
func Flags(page string) (names []string) {
	seen := map[string]bool{}
	for _, m := range flagWord.FindAllStringSubmatch(page, -1) {
		if !seen[m[1]] {
			seen[m[1]] = true
			names = append(names, m[1])
		}
	}
	return names
}

// Examples returns the command lines under "example", without the indent.
func Examples(page string) (lines []string) {
	_, after, _ := strings.Cut(page, "\nexample\n")
	for line := range strings.Lines(after) {
		if command := strings.TrimSpace(line); command != "" {
			lines = append(lines, command)
		}
	}
	return lines
}
