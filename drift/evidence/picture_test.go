package evidence

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"windfall/geo"
)

// The picture that a sighting was taken from is kept with it and said, and does
// not change what it weighs.
func TestPictureIsKept(t *testing.T) {
	deg := 47.0
	s := Sighting{Kind: Bearing{Observer: Observer{From: &geo.Place{Lat: 41.9, Lon: -4.9}}, BearingDeg: &deg},
		Picture: &Picture{Name: "IMG_1.jpg", SHA256: "ab", Pixel: [2]float64{12, 34}}}
	require.NoError(t, s.Ready())
	body, err := json.Marshal(s)
	require.NoError(t, err)
	got, ok, err := Decode(3, "Ana", "sighting", body)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, s.Picture, got.Picture)
	require.Contains(t, got.String(), ", by IMG_1.jpg")
	without := got
	without.Picture = nil
	require.Equal(t, (&term{Sighting: without}).order(), (&term{Sighting: got}).order())
}
