package mapfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-kml/v3"
)

// Viewers take a description for HTML: what people wrote is shown as text, so it
// is escaped once for HTML and once for XML.
func TestDescriptionsAreText(t *testing.T) {
	var b strings.Builder
	require.NoError(t, kml.KML(kml.Document(described(`<b>Ana</b> & "Bo"`))).Write(&b))
	assert.Contains(t, b.String(), `&amp;lt;b&amp;gt;Ana&amp;lt;/b&amp;gt; &amp;amp; `)
}
