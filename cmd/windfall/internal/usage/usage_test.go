package usage

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestMarks(t *testing.T) {
	assert.NoError(t, Mark(nil))
	assert.False(t, Is(errors.New("plain")))
	assert.False(t, Is(nil))
	err := fmt.Errorf("outer: %w", Errorf("speed %q: %w", "fast", context.Canceled))
	assert.True(t, Is(err))
	assert.ErrorIs(t, err, context.Canceled)
	assert.EqualError(t, Mark(errors.New("a line")), "a line")
}
