package mapfile

import (
	"io"
	"testing"
)

// BenchmarkFiles makes every usual file of a 200 by 200 map and four
// searchers; a second is the promise.
func BenchmarkFiles(b *testing.B) {
	l := demo()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Files(l, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFormat(b *testing.B) {
	l := demo()
	for _, f := range formats {
		b.Run(f.name, func(b *testing.B) {
			for b.Loop() {
				if err := f.write(io.Discard, l, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
