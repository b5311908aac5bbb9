package mapfile

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// schemas returns a folder with the published schemas of KML 2.2 and GPX 1.1:
// the one WINDFALL_SCHEMAS names, else a folder called schemas in one beside the
// project. docs/map-files.md says where the standards bodies publish them.
func schemas(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("WINDFALL_SCHEMAS")
	if dir == "" {
		found, err := filepath.Glob("../../../*/schemas/ogckml22.xsd")
		require.NoError(t, err)
		if len(found) == 0 {
			t.Skip("no schemas here: WINDFALL_SCHEMAS=FOLDER with ogckml22.xsd, atom-author-link.xsd, xAL.xsd and Topografix_gpx11.xsd")
		}
		dir = filepath.Dir(found[0])
	}
	return dir
}

// xmllint holds every awkward file to the published schemas (Debian package
// libxml2-utils).
func TestFilesKeepToTheSchemas(t *testing.T) {
	published, dir := schemas(t), t.TempDir()
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
	tool(t, "libxml2-utils", "xmllint", append([]string{"--noout", "--nonet", "--schema", filepath.Join(published, "ogckml22.xsd")}, kmls...)...)
	tool(t, "libxml2-utils", "xmllint", append([]string{"--noout", "--nonet", "--schema", filepath.Join(published, "Topografix_gpx11.xsd")}, gpxs...)...)
}
