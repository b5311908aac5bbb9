package motorcode

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
)

func ptr(v float64) *float64 { return &v }

// A motor known by its letter flies with any impulse of the class: from 5 to
// 10 N s for C (NFPA 1125 classes double from A, 2.5 N s at most).
func TestCode(t *testing.T) {
	for text, want := range map[string]Code{
		"C6-5":      {5, 10, 6, ptr(5)},
		"H150-9":    {160, 320, 150, ptr(9)},
		"1/2A3-4T":  {0.625, 1.25, 3, ptr(4)},
		"1/4A2":     {0.3125, 0.625, 2, nil},
		"1/8A0.5-1": {0, 0.3125, 0.5, ptr(1)},
		"G80T-7":    {80, 160, 80, ptr(7)},
		"J350-P":    {640, 1280, 350, nil},
		"O5100":     {20480, 40960, 5100, nil},
		"D12-0":     {10, 20, 12, ptr(0)},
	} {
		got, ok := Read(text)
		assert.True(t, ok, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "rocket", "9", "H", "1/2B3", "H0-3", "h150"} {
		_, ok := Read(text)
		assert.False(t, ok, text)
	}
}

func ExampleRead() {
	c, ok := Read("H150-9")
	fmt.Println(ok, c.ImpulseMin, c.ImpulseMax, c.Thrust, *c.Delay)
	// Output: true 160 320 150 9
}
