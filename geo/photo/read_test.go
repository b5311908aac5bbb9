package photo_test

import (
	"bytes"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"windfall/geo/photo"
	"windfall/geo/photo/phototest"
)

func ptr(v float64) *float64 { return &v }

func picture(t testing.TB, w, h int) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range w * h {
		m.Set(i%w, i/w, color.RGBA{uint8(i), uint8(i / w), 90, 255})
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	return b.Bytes()
}

var zone = time.FixedZone("", 3600)

var tags = phototest.Tags{
	Lat: ptr(39.0512), Lon: ptr(-5.5831), Altitude: ptr(471.5), Time: time.Date(2026, 3, 14, 10, 31, 5, 250e6, zone), Zoned: true,
	Direction: ptr(47.5), Magnetic: true, Focal35: 26, Orientation: 6, Caption: "<script>alert(1)</script>",
	Above: ptr(59.4), Yaw: ptr(-12.5), Pitch: ptr(-89.9),
}

func TestRead(t *testing.T) {
	file, err := phototest.Write(picture(t, 64, 48), tags)
	require.NoError(t, err)
	m, err := photo.Read(bytes.NewReader(file))
	require.NoError(t, err)
	require.Equal(t, "JPEG", m.Format)
	require.Equal(t, [2]int{48, 64}, [2]int{m.Width, m.Height}, "held upright")
	require.InDelta(t, 39.0512, m.At.Lat(), 1e-7)
	require.InDelta(t, -5.5831, m.At.Lon(), 1e-7)
	require.InDelta(t, 471.5, *m.Altitude, 1e-3)
	require.True(t, m.Time.Equal(tags.Time), "%v", m.Time)
	require.True(t, m.Zoned)
	require.InDelta(t, 347.5, *m.Direction, 1e-6, "the gimbal's, not the compass's")
	require.False(t, m.Magnetic)
	require.InDelta(t, -89.9, *m.Pitch, 1e-6)
	require.InDelta(t, 59.4, *m.AboveStart, 1e-6)
	require.Equal(t, 26.0, m.Focal35)
	require.Equal(t, "<script>alert(1)</script>", m.Caption)
}

// What another program reads of the same file: exiftool, where it is installed
// (Debian: libimage-exiftool-perl).
func TestReadAsExiftoolDoes(t *testing.T) {
	tool, err := exec.LookPath("exiftool")
	if err != nil {
		t.Skip("exiftool is not installed")
	}
	name := filepath.Join(t.TempDir(), "a.jpg")
	file, err := phototest.Write(picture(t, 64, 48), tags)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(name, file, 0o644))
	out, err := exec.Command(tool, "-n", "-json", "-warning", name).Output()
	require.NoError(t, err)
	require.NotContains(t, string(out), "Warning", "the file written is as the standard has it")
	out, err = exec.Command(tool, "-n", "-json", name).Output()
	require.NoError(t, err)
	var said []map[string]any
	require.NoError(t, json.Unmarshal(out, &said))
	m, err := photo.Read(bytes.NewReader(file))
	require.NoError(t, err)
	for tag, got := range map[string]float64{
		"GPSLatitude": m.At.Lat(), "GPSLongitude": m.At.Lon(), "GPSAltitude": *m.Altitude,
		"FocalLengthIn35mmFormat": m.Focal35, "GimbalPitchDegree": *m.Pitch, "RelativeAltitude": *m.AboveStart, "Orientation": float64(m.Orientation),
	} {
		want, ok := said[0][tag].(float64)
		if !ok {
			want, err = strconv.ParseFloat(said[0][tag].(string), 64)
			require.NoError(t, err)
		}
		require.InDelta(t, want, got, 1e-6, tag)
	}
	require.Equal(t, said[0]["SubSecDateTimeOriginal"], m.Time.Format("2006:01:02 15:04:05.000-07:00"))

	// and a file that exiftool wrote
	require.NoError(t, os.WriteFile(name, picture(t, 64, 48), 0o644))
	require.NoError(t, exec.Command(tool, "-q", "-overwrite_original", "-n", "-GPSLatitude=51.5", "-GPSLatitudeRef=S", "-GPSLongitude=3.25",
		"-GPSLongitudeRef=W", "-GPSImgDirection=200.5", "-GPSImgDirectionRef=T", "-FocalLength=4.5", "-FocalPlaneXResolution=10",
		"-FocalPlaneResolutionUnit=4", "-DateTimeOriginal=2026:03:14 10:00:00", "-GPSHPositioningError=6.5", "-ExposureTime=0.002", name).Run())
	file, err = os.ReadFile(name)
	require.NoError(t, err)
	m, err = photo.Read(bytes.NewReader(file))
	require.NoError(t, err)
	require.InDelta(t, -51.5, m.At.Lat(), 1e-6)
	require.InDelta(t, -3.25, m.At.Lon(), 1e-6)
	require.InDelta(t, 200.5, *m.Direction, 1e-6)
	require.InDelta(t, 6.5, m.AtError, 1e-6)
	require.InDelta(t, 0.002, m.Expose, 1e-9)
	require.InDelta(t, 6.4, m.SensorWidth, 1e-6, "64 pixels at ten to a millimetre")
	require.False(t, m.Zoned)
}

func TestReadSaysNothingOfWhatIsNotThere(t *testing.T) {
	plain := picture(t, 40, 30)
	m, err := photo.Read(bytes.NewReader(plain))
	require.NoError(t, err)
	require.Nil(t, m.At)
	require.Nil(t, m.Direction)
	require.True(t, m.Time.IsZero())
	require.Equal(t, 40, m.Width)

	null, err := phototest.Write(plain, phototest.Tags{Lat: ptr(0), Lon: ptr(0)})
	require.NoError(t, err)
	m, err = photo.Read(bytes.NewReader(null))
	require.NoError(t, err)
	require.Nil(t, m.At, "0,0 is a camera that did not know")

	for _, bad := range []string{"", "GIF89a....", "%PDF-1.7", strings.Repeat("\xff", 20)} {
		_, err = photo.Read(strings.NewReader(bad))
		require.ErrorIs(t, err, photo.ErrNotPicture, "%q", bad)
	}
}

func TestReadOfACutFile(t *testing.T) {
	file, err := phototest.Write(picture(t, 64, 48), tags)
	require.NoError(t, err)
	for n := range len(file) {
		m, err := photo.Read(bytes.NewReader(file[:n]))
		if err == nil && m.At != nil {
			require.InDelta(t, 39.0512, m.At.Lat(), 1, "cut after %d bytes", n)
		}
	}
}

func FuzzRead(f *testing.F) {
	file, err := phototest.Write(picture(f, 16, 16), tags)
	require.NoError(f, err)
	f.Add(file)
	f.Add([]byte("\x00\x00\x00\x18ftypheic"))
	f.Add([]byte("II*\x00\x08\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := photo.Read(bytes.NewReader(b))
		if err != nil {
			return
		}
		if m.At != nil && (m.At.Lat() < -90 || m.At.Lat() > 90 || m.At.Lon() < -180 || m.At.Lon() > 180) {
			t.Fatalf("position %v", m.At)
		}
		if strings.ContainsAny(m.Caption, "\x00\n") {
			t.Fatalf("caption %q", m.Caption)
		}
	})
}
