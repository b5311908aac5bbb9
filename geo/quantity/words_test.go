package quantity

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWords(t *testing.T) {
	for m2, want := range map[float64]string{0: "0 m2", 9999.4: "9999 m2", 1e4: "1.0 ha", 184_499: "18.4 ha"} {
		assert.Equal(t, want, Hectares(m2))
	}
	for _, c := range []struct {
		p        float64
		decimals int
		want     string
	}{{0, 0, "0 %"}, {1, 1, "100.0 %"}, {0.996, 0, "over 99 %"}, {0.994, 0, "99 %"}, {0.9996, 1, "over 99.9 %"},
		{0.0004, 1, "under 0.1 %"}, {0.004, 0, "under 1 %"}, {0.005, 0, "under 1 %"}, {0.006, 0, "1 %"}, {0.123, 1, "12.3 %"},
		{0.00004, 2, "under 0.01 %"}} {
		assert.Equal(t, c.want, Chance(c.p, c.decimals))
	}
	assert.Equal(t, "97.2 % (+- 0.8)", Percent(0.9721, 0.0082))
}
