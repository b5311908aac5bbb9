// Shape measures the shape of the code that is not tests: packages, lines,
// functions, decisions, files and exported names, so that what DEVELOPERS.md
// says of them can be held to.
//
//	go run ./testdata/shape            # the figures
//	go run ./testdata/shape -list      # with the places beyond each limit
//	go run ./testdata/shape -limits    # exit status 1 beyond a limit
//
// It is run in the module's folder and reads the packages there, except
// folders called testdata. A function's lines are those of its body between
// the braces; functions without a name count as part of the one they stand in.
// A function over the limit of lines may say why above it: //shape:long because.
// A decision is an if, a for, a range, a case, a && or a ||.
package main

import (
	"flag"
	"fmt"
	"os"
)

func main() {
	limits := flag.Bool("limits", false, "exit with status 1 when a limit is passed")
	list := flag.Bool("list", false, "name the places beyond each limit")
	root := flag.String("root", ".", "the module's folder")
	flag.Parse()
	t, err := read(*root)
	if err != nil {
		fmt.Fprintln(os.Stderr, "shape:", err)
		os.Exit(2)
	}
	bad := 0
	for _, f := range t.figures() {
		mark := ""
		if f.beyond() {
			bad++
			mark = "   beyond"
		}
		fmt.Printf("%-40s %8s %8s%s\n", f.what, f.is(), f.goal(), mark)
		if *list && f.beyond() {
			for _, p := range f.places {
				fmt.Println("    " + p)
			}
		}
	}
	if *limits && bad > 0 {
		fmt.Fprintf(os.Stderr, "shape: %d figures beyond their limits; -list names the places\n", bad)
		os.Exit(1)
	}
}
