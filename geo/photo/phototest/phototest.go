// Package phototest writes what a camera says of a picture into a JPEG file:
// EXIF 2.32 (CIPA DC-008), big-endian TIFF 6.0 inside, and the XMP attributes
// of drones. Tests use it; the program only reads.
package phototest

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"
)

// Tags are what is written; pointers that are nil and texts that are empty are
// left out.
type Tags struct {
	Lat, Lon    *float64  // degrees
	Altitude    *float64  // m above the sea
	Time        time.Time // by the camera's clock
	Zoned       bool      // with its offset from UTC
	Direction   *float64  // degrees
	Magnetic    bool
	Focal35     int // mm
	Orientation int // 1 to 8
	Caption     string

	Above, Yaw, Pitch *float64 // XMP: m above take-off, degrees
}

// Write returns the JPEG file with the tags in it.
func Write(jpeg []byte, t Tags) ([]byte, error) {
	if len(jpeg) < 4 || jpeg[0] != 0xff || jpeg[1] != 0xd8 {
		return nil, errors.New("no JPEG file")
	}
	out := bytes.NewBuffer([]byte{0xff, 0xd8})
	segment := func(data []byte) {
		out.Write([]byte{0xff, 0xe1, byte((len(data) + 2) >> 8), byte(len(data) + 2)})
		out.Write(data)
	}
	segment(append([]byte("Exif\x00\x00"), t.tiff()...))
	if t.Above != nil || t.Yaw != nil || t.Pitch != nil {
		segment(append([]byte("http://ns.adobe.com/xap/1.0/\x00"), t.xmp()...))
	}
	out.Write(jpeg[2:])
	return out.Bytes(), nil
}

func (t Tags) xmp() []byte {
	var b bytes.Buffer
	b.WriteString(`<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF ` +
		`xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" ` +
		`xmlns:drone-dji="http://www.dji.com/drone-dji/1.0/"`)
	for _, a := range []struct {
		name string
		v    *float64
	}{{"RelativeAltitude", t.Above}, {"GimbalYawDegree", t.Yaw}, {"GimbalPitchDegree", t.Pitch}} {
		if a.v != nil {
			fmt.Fprintf(&b, ` drone-dji:%s="%+.2f"`, a.name, *a.v)
		}
	}
	b.WriteString(`/></rdf:RDF></x:xmpmeta><?xpacket end="w"?>`)
	return b.Bytes()
}

// field is one entry of a directory: its tag, type and value.
type field struct {
	tag, kind uint16
	count     int
	data      []byte
}

func text(tag uint16, s string) field { return field{tag, 2, len(s) + 1, append([]byte(s), 0)} }

func short(tag uint16, v int) field {
	return field{tag, 3, 1, binary.BigEndian.AppendUint16(nil, uint16(v))}
}

func long(tag uint16, v int) field {
	return field{tag, 4, 1, binary.BigEndian.AppendUint32(nil, uint32(v))}
}

func rationals(tag uint16, vs ...float64) field {
	f := field{tag: tag, kind: 5, count: len(vs)}
	for _, v := range vs {
		f.data = binary.BigEndian.AppendUint32(f.data, uint32(math.Round(v*1e5)))
		f.data = binary.BigEndian.AppendUint32(f.data, 1e5)
	}
	return f
}

// angle writes a latitude or longitude as degrees, minutes and seconds.
func angle(tag uint16, v float64) field {
	v = math.Abs(v)
	d := math.Floor(v)
	m := math.Floor((v - d) * 60)
	return rationals(tag, d, m, (v-d-m/60)*3600)
}

const exifStamp = "2006:01:02 15:04:05"

func (t Tags) tiff() []byte {
	var exif, gps []field
	if !t.Time.IsZero() {
		exif = append(exif, text(0x9003, t.Time.Format(exifStamp)))
		if t.Zoned {
			exif = append(exif, text(0x9011, t.Time.Format("-07:00")))
		}
		exif = append(exif, text(0x9291, t.Time.Format(".000")[1:]))
	}
	if t.Focal35 > 0 {
		exif = append(exif, short(0xa405, t.Focal35))
	}
	if t.Lat != nil && t.Lon != nil {
		ns, ew := "N", "E"
		if *t.Lat < 0 {
			ns = "S"
		}
		if *t.Lon < 0 {
			ew = "W"
		}
		gps = append(gps, text(1, ns), angle(2, *t.Lat), text(3, ew), angle(4, *t.Lon))
	}
	if t.Altitude != nil {
		gps = append(gps, rationals(6, *t.Altitude))
	}
	if t.Direction != nil {
		ref := "T"
		if t.Magnetic {
			ref = "M"
		}
		gps = append(gps, text(0x10, ref), rationals(0x11, *t.Direction))
	}
	var first []field
	if t.Caption != "" {
		first = append(first, text(0x10e, t.Caption))
	}
	first = append(first, short(0x112, max(t.Orientation, 1)))
	// The directories follow each other; their lengths do not depend on where
	// they lie.
	at := func(fs []field, start int) []byte { return directory(fs, start) }
	n := len(at(append(first, long(0x8769, 0), long(0x8825, 0)), 8))
	e := at(exif, 8+n)
	first = append(first, long(0x8769, 8+n), long(0x8825, 8+n+len(e)))
	out := append([]byte("MM\x00\x2a"), 0, 0, 0, 8)
	out = append(out, at(first, 8)...)
	out = append(out, e...)
	return append(out, at(gps, 8+n+len(e))...)
}

// directory writes one directory that lies at start, its values behind it.
func directory(fs []field, start int) []byte {
	be := binary.BigEndian
	head := be.AppendUint16(nil, uint16(len(fs)))
	var tail []byte
	behind := start + 2 + 12*len(fs) + 4
	for _, f := range fs {
		head = be.AppendUint16(be.AppendUint16(head, f.tag), f.kind)
		head = be.AppendUint32(head, uint32(f.count))
		if len(f.data) <= 4 {
			head = append(head, append(f.data, 0, 0, 0, 0)[:4]...)
			continue
		}
		head = be.AppendUint32(head, uint32(behind+len(tail)))
		tail = append(tail, f.data...)
		if len(tail)%2 == 1 {
			tail = append(tail, 0)
		}
	}
	return append(append(head, 0, 0, 0, 0), tail...)
}
