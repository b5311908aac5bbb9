package sources

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"windfall/geo/geotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The 53 cases follow WMO-No. 306, FM 15 and FM 16; where a case allows
// "either", the outcome here is the one written down in docs/wind.md.
func TestDecodeMETARReferenceCases(t *testing.T) {
	rows := geotest.Table(t, "metar_wind_cases.csv")
	ours := map[string]string{"m14": "accept", "m28": "accept", "m33": "accept", "m52": "reject", "m53": "accept"}
	assert.Len(t, rows, 53)
	for _, row := range rows {
		get := row.Text
		t.Run(get("id"), func(t *testing.T) {
			m, err := decodeMETAR(get("report"))
			expect := get("expect")
			if expect == "either" {
				expect = ours[get("id")]
			}
			if expect == "reject" {
				require.Error(t, err)
				return
			}
			require.NoError(t, err)
			if get("id") == "m53" { // the table gives no values for it
				assert.Equal(t, 275.0, m.from)
				assert.Len(t, m.warnings, 1)
				return
			}
			near := func(name string, got, tol float64) {
				t.Helper()
				if get(name) == "" {
					assert.True(t, math.IsNaN(got), "%s: %v", name, got)
					return
				}
				want, err := strconv.ParseFloat(get(name), 64)
				require.NoError(t, err)
				assert.InDelta(t, want, got, tol, name)
			}
			near("wind_dir_deg_from", m.from, 0)
			near("wind_speed_m_s", m.speed, 1e-6)
			near("gust_m_s", m.gust, 1e-6)
			near("temp_c", m.temperature, 0)
			near("dewpoint_c", m.dew, 0)
			near("pressure_hpa", m.qnh, 0.01)
			near("altimeter_inhg", m.altimeter, 1e-9)
			if get("var_from_deg") != "" {
				require.NotNil(t, m.sector)
				near("var_from_deg", m.sector[0], 0)
				near("var_to_deg", m.sector[1], 0)
			} else {
				assert.Nil(t, m.sector)
			}
			for _, flag := range strings.Split(get("flags"), ";") {
				switch flag {
				case "VRB":
					assert.True(t, m.variable)
				case "AUTO":
					assert.True(t, m.auto)
				case "COR":
					assert.True(t, m.corrected)
				case "SPECI":
					assert.True(t, m.special)
				case "NIL":
					assert.True(t, m.nil_)
				case "CALM":
					assert.Zero(t, m.speed)
				case "SPEED_AT_LEAST":
					assert.True(t, m.atLeast)
				case "GUST_AT_LEAST":
					assert.True(t, m.gustAtLeast)
				case "WIND_MISSING", "SPEED_MISSING":
					assert.True(t, math.IsNaN(m.speed))
				}
			}
		})
	}
}
