package show

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestLeftOut(t *testing.T) {
	var many []string
	for i := range 30 {
		many = append(many, fmt.Sprintf("egret-%02d (entry %d): its flight file is not in the logbook", i, i+1))
	}
	many = append(many, "the logbook is old", "pinzon-01 (entry 40): it has no wind")
	assert.Equal(t, []string{
		"egret-00 (entry 1), egret-01 (entry 2), egret-02 (entry 3), egret-03 (entry 4), egret-04 (entry 5) and 25 more: " +
			"its flight file is not in the logbook",
		"the logbook is old",
		"pinzon-01 (entry 40): it has no wind",
	}, LeftOut(many))
	assert.Empty(t, LeftOut(nil))
	assert.Equal(t, []string{"entry 22: at_s is a string; amend or withdraw it"},
		LeftOut([]string{"entry 22 of the logbook is left out: at_s is a string; amend or withdraw it"}))
}
