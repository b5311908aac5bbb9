package photo

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/bep/imagemeta"
	"github.com/paulmach/orb"
)

// Meta is what a picture file says of itself. Pointers are nil, and numbers
// zero, where it says nothing.
type Meta struct {
	Format        string // JPEG, PNG, HEIC, TIFF, WebP
	Width, Height int    // pixels, held upright

	At         *orb.Point // longitude, latitude; never 0,0, which cameras write for "not known"
	AtError    float64    // m, the camera's own word for the error of the position
	Altitude   *float64   // m above the sea
	AboveStart *float64   // m above the place of take-off

	Time   time.Time // of the exposure by the camera's clock; in UTC when Zoned is false
	Zoned  bool      // the file says how its clock stands to UTC
	Expose float64   // s

	Direction *float64 // degrees, of the middle of the picture
	Magnetic  bool     // Direction is from magnetic north
	Pitch     *float64 // degrees above the horizontal; -90: straight down
	Roll      *float64 // degrees, clockwise as the camera sees it

	Focal35     float64 // mm, of a camera 35 mm film's size with the same view along the diagonal
	Focal       float64 // mm
	SensorWidth float64 // mm, of the longer side

	Orientation int    // EXIF's number, 1 to 8
	Caption     string // as written by whoever wrote it: not to be trusted
}

// Errors that callers tell apart.
var (
	ErrNotPicture = errors.New("not a picture that can be read; give a JPEG file (or PNG, TIFF, WebP, HEIC for its data)")
)

// formats by their first bytes.
func format(head []byte) (string, imagemeta.ImageFormat) {
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xd8}):
		return "JPEG", imagemeta.JPEG
	case bytes.HasPrefix(head, []byte("\x89PNG\r\n\x1a\n")):
		return "PNG", imagemeta.PNG
	case bytes.HasPrefix(head, []byte("II*\x00")), bytes.HasPrefix(head, []byte("MM\x00*")):
		return "TIFF", imagemeta.TIFF
	case len(head) >= 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == "WEBP":
		return "WebP", imagemeta.WebP
	case len(head) >= 12 && string(head[4:8]) == "ftyp" &&
		strings.Contains("heic heix heim heis mif1 msf1 hevc hevx", string(head[8:12])):
		return "HEIC", imagemeta.HEIF
	}
	return "", 0
}

// Read reads what a picture says of itself. Tags that make no sense are left
// out; a file that is cut off gives what stands before the cut. The error is
// ErrNotPicture where the first bytes are no picture's.
func Read(r io.ReadSeeker) (*Meta, error) {
	head := make([]byte, 12)
	n, err := io.ReadFull(r, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return nil, err
	}
	m := &Meta{Orientation: 1}
	var kind imagemeta.ImageFormat
	if m.Format, kind = format(head[:n]); m.Format == "" {
		return nil, ErrNotPicture
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	t := tags{}
	res, err := imagemeta.Decode(imagemeta.Options{
		R: r, ImageFormat: kind, Sources: imagemeta.EXIF | imagemeta.XMP | imagemeta.CONFIG,
		ShouldHandleTag: func(i imagemeta.TagInfo) bool { return !strings.HasPrefix(i.Namespace, "IFD1") },
		HandleTag: func(i imagemeta.TagInfo) error {
			if _, ok := t[i.Tag]; !ok || i.Source == imagemeta.EXIF {
				t[i.Tag] = i.Value
			}
			return nil
		},
	})
	if err != nil && !imagemeta.IsInvalidFormat(err) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, fmt.Errorf("cannot be read: %w", err)
	}
	m.Width, m.Height = res.ImageConfig.Width, res.ImageConfig.Height
	m.take(t)
	return m, nil
}

// take fills the fields from the tags. EXIF's names are those of EXIF 2.32
// (CIPA DC-008), XMP's those that makers of drones write.
func (m *Meta) take(t tags) {
	if v, ok := t.number("Orientation"); ok && v >= 1 && v <= 8 {
		m.Orientation = int(v)
	}
	if m.Orientation >= 5 && m.Format != "HEIC" { // stored on its side; HEIC's size is told upright
		m.Width, m.Height = m.Height, m.Width
	}
	m.place(t)
	m.clock(t)
	m.look(t)
	m.lens(t)
	m.Expose, _ = t.within("ExposureTime", 1e-6, 3600)
	m.Caption = t.text("ImageDescription")
}

func (m *Meta) place(t tags) {
	lat, ok := t.number("GPSLatitude")
	lon, also := t.number("GPSLongitude")
	if strings.HasPrefix(strings.ToUpper(t.text("GPSLatitudeRef")), "S") {
		lat = -math.Abs(lat)
	}
	if strings.HasPrefix(strings.ToUpper(t.text("GPSLongitudeRef")), "W") {
		lon = -math.Abs(lon)
	}
	null := math.Abs(lat) < 1e-6 && math.Abs(lon) < 1e-6
	if ok && also && !null && math.Abs(lat) <= 90 && math.Abs(lon) <= 180 {
		m.At = &orb.Point{lon, lat}
	}
	m.AtError, _ = t.within("GPSHPositioningError", 0.01, 1e5)
	if v, ok := t.within("GPSAltitude", -500, 20e3); ok {
		if below, _ := t.number("GPSAltitudeRef"); below == 1 {
			v = -v
		}
		m.Altitude = &v
	}
	if v, ok := t.within("AbsoluteAltitude", -500, 20e3); ok && m.Altitude == nil {
		m.Altitude = &v
	}
	if v, ok := t.within("RelativeAltitude", -500, 10e3); ok {
		m.AboveStart = &v
	}
}

func (m *Meta) clock(t tags) {
	const layout = "2006:01:02 15:04:05"
	for _, k := range []struct{ time, zone, sub string }{
		{"DateTimeOriginal", "OffsetTimeOriginal", "SubSecTimeOriginal"},
		{"DateTime", "OffsetTime", "SubSecTime"}, {"ModifyDate", "OffsetTime", "SubSecTime"},
	} {
		at, err := time.Parse(layout, strings.TrimSpace(t.text(k.time)))
		if err != nil || at.Year() < 1990 {
			continue
		}
		// The library reads the digits as a number, so that leading zeros are lost:
		// only three digits are sure to be thousandths.
		if ms, ok := t.within(k.sub, 100, 999); ok {
			at = at.Add(time.Duration(ms) * time.Millisecond)
		}
		if z, err := time.Parse("-07:00", strings.TrimSpace(t.text(k.zone))); err == nil {
			_, off := z.Zone()
			at, m.Zoned = time.Date(at.Year(), at.Month(), at.Day(), at.Hour(), at.Minute(), at.Second(), at.Nanosecond(),
				time.FixedZone("", off)), true
		}
		m.Time = at
		return
	}
}

// look reads which way the camera looked. A gimbal's angles are those of the
// camera; those of the aircraft that carries it are not.
func (m *Meta) look(t tags) {
	if v, ok := t.within("GPSImgDirection", 0, 360); ok {
		m.Direction = &v
		m.Magnetic = strings.HasPrefix(strings.ToUpper(t.text("GPSImgDirectionRef")), "M")
	}
	for _, name := range []string{"GimbalYawDegree", "CameraYawDegree", "Yaw"} {
		if v, ok := t.within(name, -360, 360); ok {
			v = math.Mod(v+360, 360)
			m.Direction, m.Magnetic = &v, false
			break
		}
	}
	for _, name := range []string{"GimbalPitchDegree", "CameraPitchDegree", "Pitch"} {
		if v, ok := t.within(name, -180, 180); ok {
			if name == "Pitch" { // of Camera:Pitch: 0 looks straight down
				v -= 90
			}
			m.Pitch = &v
			break
		}
	}
	for _, name := range []string{"GimbalRollDegree", "CameraRollDegree", "Roll"} {
		if v, ok := t.within(name, -360, 360); ok {
			v = math.Remainder(v, 360)
			m.Roll = &v
			break
		}
	}
}

func (m *Meta) lens(t tags) {
	m.Focal35, _ = t.within("FocalLengthIn35mmFormat", 1, 5000)
	if m.Focal35 == 0 {
		m.Focal35, _ = t.within("FocalLengthIn35mmFilm", 1, 5000)
	}
	m.Focal, _ = t.within("FocalLength", 0.1, 5000)
	per, ok := t.within("FocalPlaneXResolution", 1e-3, 1e7)
	if !ok || m.Width == 0 {
		return
	}
	unit := 25.4 // mm; EXIF's 2 (inch) and its default
	switch u, _ := t.number("FocalPlaneResolutionUnit"); u {
	case 3:
		unit = 10
	case 4:
		unit = 1
	case 5:
		unit = 1e-3
	}
	wide := float64(max(m.Width, m.Height))
	if v, ok := t.within("ExifImageWidth", 1, 1e6); ok {
		wide = v // the resolution is of the picture as it was taken
	}
	if v := wide / per * unit; v > 1 && v < 300 {
		m.SensorWidth = v
	}
}

// Upright turns a pixel of the picture as it is stored into one of the picture
// held upright.
func (m *Meta) Upright(x, y float64) (u, v float64) {
	w, h := float64(m.Width), float64(m.Height) // upright
	switch m.Orientation {
	case 2:
		return w - x, y
	case 3:
		return w - x, h - y
	case 4:
		return x, h - y
	case 5:
		return y, x
	case 6:
		return w - y, x
	case 7:
		return w - y, h - x
	case 8:
		return y, h - x
	}
	return x, y
}
