package mapfile

import (
	"bytes"
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
			var out bytes.Buffer
			for b.Loop() {
				out.Reset()
				if err := f.write(&out, l, Options{}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(out.Len())/1000, "kB")
		})
	}
}
