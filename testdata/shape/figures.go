package main

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
)

// figure is one number with the most it may be.
type figure struct {
	what   string
	n      int
	most   int      // -1: no limit
	places []string // what stands beyond the limit, the worst first
}

func (f figure) beyond() bool { return f.most >= 0 && f.n > f.most }
func (f figure) is() string   { return fmt.Sprint(f.n) }

func (f figure) goal() string {
	if f.most < 0 {
		return ""
	}
	return fmt.Sprintf("<= %d", f.most)
}

// The limits.
const (
	bodyMedian, bodyP90, bodyMost = 12, 36, 60
	decisionsP90, decisionsMost   = 9, 30
	parametersMost                = 5
	fileMost                      = 400
	exportedMost                  = 30
	commandLines, commandFiles    = 3000, 18
)

// command is the folder of the command line, which is to stay small.
var command = filepath.Join("cmd", "windfall")

// figures returns every figure in the order they are printed.
func (t *tree) figures() []figure {
	lines, inCommand, linesInCommand := 0, 0, 0
	for _, f := range t.files {
		lines += f.lines
		if filepath.Dir(f.path) == command {
			inCommand++
			linesInCommand += f.lines
		}
	}
	bodies := places(slices.DeleteFunc(slices.Clone(t.funcs), func(f function) bool { return f.reason }), bodyMost,
		body, at)
	decisions := places(t.funcs, decisionsMost, decided, at)
	parameters := places(t.funcs, parametersMost, func(f function) int { return f.parameters }, at)
	long := places(t.files, fileMost, func(f file) int { return f.lines }, func(f file) string { return f.path })
	most, wide, silent := t.byPackage()
	return []figure{
		{"packages", len(t.packages), -1, nil},
		{"files", len(t.files), -1, nil},
		{"lines", lines, -1, nil},
		{"functions", len(t.funcs), -1, nil},
		{"function lines, median", t.share(50, body), bodyMedian, places(t.funcs, bodyP90, body, at)},
		{"function lines, 90 of 100", t.share(90, body), bodyP90, places(t.funcs, bodyP90, body, at)},
		{"function lines, most", t.share(100, body), -1, nil},
		{fmt.Sprintf("functions over %d lines", bodyMost), len(bodies), 0, bodies},
		{"decisions, 90 of 100", t.share(90, decided), decisionsP90, places(t.funcs, decisionsP90, decided, at)},
		{"decisions, most", t.share(100, decided), decisionsMost, decisions},
		{fmt.Sprintf("functions over %d parameters", parametersMost), len(parameters), 0, parameters},
		{fmt.Sprintf("files over %d lines", fileMost), len(long), 0, long},
		{"exported names of a package, most", most, exportedMost, wide},
		{"exported names without a comment", len(t.nameless), 0, t.nameless},
		{"packages without a comment", len(silent), 0, silent},
		{fmt.Sprintf("lines over %d characters", longest), len(t.longLines), 0, t.longLines},
		{"cmd/windfall: lines", linesInCommand, commandLines, nil},
		{"cmd/windfall: files", inCommand, commandFiles, nil},
	}
}

func body(f function) int    { return f.body }
func decided(f function) int { return f.decisions }
func at(f function) string   { return f.at }

// share returns the number that so many of 100 functions do not pass.
func (t *tree) share(of int, number func(function) int) int {
	var all []int
	for _, f := range t.funcs {
		all = append(all, number(f))
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return all[max(0, (len(all)*of+99)/100-1)]
}

// byPackage returns the most exported names a package has, the packages with
// too many, and those without a comment.
func (t *tree) byPackage() (most int, wide, silent []string) {
	type named struct {
		dir string
		n   int
	}
	var all []named
	for dir, p := range t.packages {
		most = max(most, p.exported)
		all = append(all, named{dir, p.exported})
		if !p.comment {
			silent = append(silent, dir)
		}
	}
	slices.Sort(silent)
	slices.SortFunc(all, func(a, b named) int { return cmp.Compare(a.dir, b.dir) })
	return most, places(all, exportedMost, func(p named) int { return p.n }, func(p named) string { return p.dir }), silent
}

// places names what is over a limit, the worst first.
func places[T any](all []T, most int, number func(T) int, name func(T) string) []string {
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b T) int { return cmp.Compare(number(b), number(a)) })
	var out []string
	for _, x := range all {
		if n := number(x); n > most {
			out = append(out, fmt.Sprintf("%4d  %s", n, name(x)))
		}
	}
	return out
}
