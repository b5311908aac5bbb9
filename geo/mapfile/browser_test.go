package mapfile

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// browser is one Chromium for many pages, spoken to over a pipe in the DevTools
// protocol (https://chromedevtools.github.io/devtools-protocol): JSON messages,
// each ended by a zero byte.
type browser struct {
	to   *os.File
	from *bufio.Reader
	last int
}

// message is an answer (ID) or an event (Method).
type message struct {
	ID     int             `json:"id"`
	Method string          `json:"method"`
	Result json.RawMessage `json:"result"`
	Error  json.RawMessage `json:"error"`
}

// browse starts a browser that ends with the test.
func browse(t *testing.T) *browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("chromium is not installed: apt install chromium")
	}
	if out, err := exec.Command("fc-match", "Liberation Sans").Output(); err != nil || !strings.Contains(string(out), "Liberation") {
		t.Skip("the sheet's letters are not installed: apt install fonts-liberation")
	}
	inR, inW, err := os.Pipe()
	require.NoError(t, err)
	outR, outW, err := os.Pipe()
	require.NoError(t, err)
	cmd := exec.Command(path, "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
		"--remote-debugging-pipe", "--user-data-dir="+filepath.Join(t.TempDir(), "profile"))
	cmd.ExtraFiles = []*os.File{inR, outW} // its descriptors 3 and 4
	require.NoError(t, cmd.Start())
	inR.Close()
	outW.Close()
	require.NoError(t, outR.SetReadDeadline(time.Now().Add(5*time.Minute)))
	b := &browser{to: inW, from: bufio.NewReader(outR)}
	t.Cleanup(func() {
		fmt.Fprint(inW, `{"id":0,"method":"Browser.close"}`+"\x00")
		inW.Close()
		_ = cmd.Wait()
		outR.Close()
	})
	return b
}

// ask sends a command and fills into with its answer; session is "" for the
// browser itself.
func (b *browser) ask(t *testing.T, session, method string, params map[string]any, into any) {
	t.Helper()
	b.last++
	call := map[string]any{"id": b.last, "method": method, "params": params}
	if session != "" {
		call["sessionId"] = session
	}
	text, err := json.Marshal(call)
	require.NoError(t, err)
	_, err = b.to.Write(append(text, 0))
	require.NoError(t, err)
	b.wait(t, into, func(m message) bool { return m.ID == b.last })
}

// wait reads messages up to the one wanted.
func (b *browser) wait(t *testing.T, into any, wanted func(message) bool) {
	t.Helper()
	for {
		text, err := b.from.ReadBytes(0)
		require.NoError(t, err, "the browser ended")
		var m message
		require.NoError(t, json.Unmarshal(text[:len(text)-1], &m))
		if !wanted(m) {
			continue
		}
		require.Empty(t, string(m.Error))
		if into != nil {
			require.NoError(t, json.Unmarshal(m.Result, into))
		}
		return
	}
}

// print opens a file and returns it as PDF, on the paper its style asks for.
func (b *browser) print(t *testing.T, file string) []byte {
	t.Helper()
	var target struct{ TargetID string }
	b.ask(t, "", "Target.createTarget", map[string]any{"url": "about:blank"}, &target)
	var page struct{ SessionID string }
	b.ask(t, "", "Target.attachToTarget", map[string]any{"targetId": target.TargetID, "flatten": true}, &page)
	b.ask(t, page.SessionID, "Page.enable", nil, nil)
	b.ask(t, page.SessionID, "Page.navigate", map[string]any{"url": "file://" + file}, nil)
	b.wait(t, nil, func(m message) bool { return m.Method == "Page.loadEventFired" })
	var pdf struct{ Data []byte }
	b.ask(t, page.SessionID, "Page.printToPDF", map[string]any{"preferCSSPageSize": true, "printBackground": true}, &pdf)
	b.ask(t, "", "Target.closeTarget", map[string]any{"targetId": target.TargetID}, nil)
	return pdf.Data
}

// printed prints a sheet and returns what pdfinfo says and the text.
func (b *browser) printed(t *testing.T, html string) (info, text string) {
	pdf := filepath.Join(t.TempDir(), "sheet.pdf")
	require.NoError(t, os.WriteFile(pdf, b.print(t, html), 0o644))
	if look := os.Getenv("WINDFALL_LOOK"); look != "" {
		name := strings.NewReplacer("/", "-", " ", "-").Replace(t.Name())
		tool(t, "poppler-utils", "pdftoppm", "-r", "80", "-png", pdf, filepath.Join(look, name))
	}
	return tool(t, "poppler-utils", "pdfinfo", pdf), tool(t, "poppler-utils", "pdftotext", "-layout", pdf, "-")
}
