package pictures

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // formats that are read
	_ "image/png"
	"os"
	"path/filepath"
	"strings"

	_ "golang.org/x/image/tiff"
	_ "golang.org/x/image/webp"

	"windfall/geo/photo"
)

// open reads a picture file whole and what it says of itself. The errors say
// what to do about them.
func open(path string) (data []byte, m *photo.Meta, err error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, nil, errors.New("cannot be read; check the name")
	}
	if st.IsDir() {
		return nil, nil, fmt.Errorf("is a folder; name its pictures, such as %s", filepath.Join(path, "*.JPG"))
	}
	if st.Size() > mostBytes {
		return nil, nil, fmt.Errorf("is larger than %d MB: no photograph; give JPEG files", mostBytes>>20)
	}
	if data, err = os.ReadFile(path); err != nil {
		return nil, nil, errors.New("cannot be read; check who may read it")
	}
	m, err = photo.Read(bytes.NewReader(data))
	if errors.Is(err, photo.ErrNotPicture) && isFilm(data) {
		return nil, nil, errors.New("is a film; take frames out of it first: docs/pictures.md has the command")
	}
	return data, m, err
}

func isFilm(data []byte) bool {
	if len(data) <= 12 {
		return false
	}
	head := string(data[:4])
	return string(data[4:8]) == "ftyp" || head == "\x1aE\xdf\xa3" || head == "RIFF"
}

var errHEIC = errors.New("is a HEIC file, whose pixels this program cannot read; convert it, keeping its data, " +
	"for example with heif-convert IMG.heic IMG.jpg, or set the camera to JPEG")

// decode reads the pixels.
func decode(data []byte) (image.Image, error) {
	c, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, errors.New("is cut off or damaged; copy it from the camera's card again")
	}
	if n := float64(c.Width) * float64(c.Height); n > mostPixels {
		return nil, fmt.Errorf("has %.0f megapixels; pictures of up to %.0f are looked at: make it smaller", n/1e6,
			mostPixels/1e6)
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, errors.New("is cut off or damaged; copy it from the camera's card again")
	}
	return img, nil
}

func hashOf(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

// Names expands what the command line names, for shells that do not.
func Names(args []string) ([]string, error) {
	var out []string
	for _, a := range args {
		if !strings.ContainsAny(a, "*?[") {
			out = append(out, a)
			continue
		}
		found, err := filepath.Glob(a)
		if err != nil || len(found) == 0 {
			if _, err := os.Stat(a); err == nil {
				out = append(out, a)
				continue
			}
			return nil, fmt.Errorf("%q names no file; check the folder", a)
		}
		out = append(out, found...)
	}
	return out, nil
}
