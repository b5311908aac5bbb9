package mapfile

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

const kmlSchema, gpxSchema = "testdata/schemas/ogckml22.xsd", "testdata/schemas/Topografix_gpx11.xsd"

// The schemas are the published ones, testdata/schemas/README.md; xmllint
// reads them (Debian package libxml2-utils).
func TestFilesKeepToTheSchemas(t *testing.T) {
	dir := t.TempDir()
	var kmls, gpxs []string
	put := func(list *[]string, name string, data []byte) {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, data, 0o644))
		*list = append(*list, path)
	}
	for name, l := range awkward() {
		put(&kmls, name+".kml", made(t, l, "kml", Options{}))
		put(&kmls, name+".kmz.kml", unzipped(t, made(t, l, "kmz", Options{}), "doc.kml"))
		put(&gpxs, name+".gpx", made(t, l, "gpx", Options{}))
		put(&gpxs, name+".tracks.gpx", made(t, l, "gpx", Options{Tracks: true}))
	}
	tool(t, "libxml2-utils", "xmllint", append([]string{"--noout", "--nonet", "--schema", kmlSchema}, kmls...)...)
	tool(t, "libxml2-utils", "xmllint", append([]string{"--noout", "--nonet", "--schema", gpxSchema}, gpxs...)...)
}
