package nearest

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestHint(t *testing.T) {
	known := []string{"predict", "locate", "search"}
	assert.Equal(t, "did you mean predict?", Hint("predct", known))
	assert.Equal(t, "did you mean search?", Hint("SEARCH", known))
	assert.Equal(t, "known are locate, predict, search", Hint("zzz", known))
}
