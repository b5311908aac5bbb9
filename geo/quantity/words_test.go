package quantity

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWords(t *testing.T) {
	for m2, want := range map[float64]string{0: "0 m2", 9999.4: "9999 m2", 1e4: "1.0 ha", 184_499: "18.4 ha"} {
		assert.Equal(t, want, Hectares(m2))
	}
	assert.Equal(t, "97.2 % (+- 0.8)", Percent(0.9721, 0.0082))
}
