package main

import (
	"bufio"
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/search"
)

// The screens that the page is tried on, in CSS pixels.
var (
	phone  = screen{"phone", 360, 740, true}
	laptop = screen{"laptop", 1280, 800, false}
)

type screen struct {
	name          string
	width, height int64
	touch         bool
}

// browser is the one Chromium of all tests of the page.
var browser = sync.OnceValues(func() (context.Context, error) {
	path, err := exec.LookPath("chromium")
	if err != nil {
		return nil, err
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(path), chromedp.Flag("no-sandbox", true))
	ctx, _ := chromedp.NewExecAllocator(context.Background(), options...) // ends with the test program
	ctx, _ = chromedp.NewContext(ctx)
	return ctx, chromedp.Do(ctx)
})

// tab is a window of the browser on a page.
type tab struct {
	t   *testing.T
	ctx context.Context
}

// served runs windfall serve and returns the address that it prints; stop ends
// it, as the end of the test does.
func served(t *testing.T, args ...string) (url string, stop func()) {
	t.Helper()
	out, in := io.Pipe()
	e := env{out: in, err: os.Stderr, now: testClock, getenv: func(k string) string {
		if k == "WINDFALL_LOGBOOK" {
			return filepath.Join(t.TempDir(), "logbook.db")
		}
		return os.Getenv(k)
	}}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan int, 1)
	go func() {
		done <- run(ctx, e, append([]string{"serve", "--no-browser"}, args...))
		in.Close()
	}()
	lines := bufio.NewReader(out)
	line, err := lines.ReadString('\n')
	require.NoError(t, err)
	go io.Copy(io.Discard, lines)
	url, ok := strings.CutPrefix(strings.TrimSpace(line), "page: ")
	require.True(t, ok, line)
	stop = sync.OnceFunc(func() {
		cancel()
		assert.Equal(t, 0, <-done)
	})
	t.Cleanup(stop)
	return url, stop
}

// garzaCopy is a copy of the example's folder.
func garzaCopy(t *testing.T) string {
	dir := filepath.Join(t.TempDir(), "garza")
	require.NoError(t, os.CopyFS(dir, os.DirFS("../../testdata/garza")))
	return dir
}

//go:embed testdata/browser/hands.js
var hands string

// opened opens a page in a window with a storage of its own.
func opened(t *testing.T, url string, on screen) *tab {
	t.Helper()
	w := unopened(t, on)
	w.do(chromedp.Navigate(url))
	w.until("document.querySelector('.big')")
	return w
}

// unopened is an empty window.
func unopened(t *testing.T, on screen) *tab {
	t.Helper()
	if testing.Short() {
		t.Skip("starts a browser")
	}
	b, err := browser()
	if err != nil {
		t.Skip("Chromium is not here: ", err)
	}
	ctx, cancel := chromedp.NewContext(b, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	require.NoError(t, chromedp.Do(ctx)) // the window lives as long as the context of its first call
	w := &tab{t, ctx}
	touch := func(_ *emulation.SetDeviceMetricsOverrideParams, p *emulation.SetTouchEmulationEnabledParams) {
		p.Enabled = on.touch
	}
	w.do(chromedp.EmulateViewport(on.width, on.height, touch), chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, cdppage.AddScriptToEvaluateOnNewDocument, cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: hands})
		return err
	}))
	return w
}

func (w *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	w.t.Helper()
	ctx, cancel := context.WithTimeout(w.ctx, time.Minute)
	defer cancel()
	require.NoError(w.t, chromedp.Do(ctx, steps...))
}

// shoot keeps a picture where WINDFALL_SHOTS names a folder for them.
func (w *tab) shoot(name string) {
	dir := os.Getenv("WINDFALL_SHOTS")
	if dir == "" {
		return
	}
	if png, err := chromedp.Run(w.ctx, chromedp.CaptureScreenshot()); assert.NoError(w.t, err) {
		assert.NoError(w.t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
	}
}

// eval runs JavaScript in a page.
func eval[T any](w *tab, code string) T {
	w.t.Helper()
	ctx, cancel := context.WithTimeout(w.ctx, 20*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](code, chromedp.EvalAwaitPromise))
	require.NoError(w.t, err, code)
	return v
}

// until waits for JavaScript to be true.
func (w *tab) until(code string) {
	w.t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if eval[bool](w, "!!("+code+")") {
			return
		}
	}
	w.shoot("failed")
	require.Fail(w.t, "never came", "%s\n%.3000s", code, eval[string](w, "document.body.innerText"))
}

// sees waits for words to be seen.
func (w *tab) sees(words string) {
	w.t.Helper()
	w.until("document.body?.innerText.includes(" + quotedJS(words) + ")")
}

// at waits for a thing of the page and returns its middle.
func (w *tab) at(find string) (x, y float64) {
	w.t.Helper()
	w.until(find)
	p := eval[[]float64](w, "hands.middle("+find+")")
	require.Len(w.t, p, 2)
	return p[0], p[1]
}

// press clicks a button, a tab or a heading that opens, by its words.
func (w *tab) press(words string) {
	w.t.Helper()
	w.do(chromedp.MouseClickXY(w.at("hands.button(" + quotedJS(words) + ")")))
}

// write types into the field with a label; group, where not empty, is the
// legend of the group that it is in.
func (w *tab) write(label, group, text string) {
	w.t.Helper()
	find := fmt.Sprintf("hands.field(%s, %s)", quotedJS(label), quotedJS(group))
	w.do(chromedp.MouseClickXY(w.at(find)), chromedp.KeyEvent("a", chromedp.KeyModifiers(chromedp.ModifierCtrl)), chromedp.KeyEvent(text+"\t"))
}

// choose takes an entry of the list with a label.
func (w *tab) choose(label, entry string) {
	w.t.Helper()
	find := fmt.Sprintf("hands.field(%s)", quotedJS(label))
	w.at(find)
	ok := eval[bool](w, fmt.Sprintf(`(() => { const s = %s, o = [...s.options].find((o) => hands.words(o) === %s); if (!o) return false;
		s.value = o.value; s.dispatchEvent(new Event("change", { bubbles: true })); return true })()`, find, quotedJS(entry)))
	require.True(w.t, ok, "%s has no %s", label, entry)
}

// reads returns what the list, box or slider with a label holds.
func (w *tab) reads(label string) string {
	w.t.Helper()
	w.until("hands.field(" + quotedJS(label) + ")")
	return eval[string](w, "hands.field("+quotedJS(label)+").value")
}

// tap touches the map at shares of its width and height.
func (w *tab) tap(across, down float64) {
	w.t.Helper()
	p := eval[[]float64](w, fmt.Sprintf(`(() => { const r = document.getElementById("map").getBoundingClientRect();
		return [r.left + r.width * %g, r.top + r.height * %g] })()`, across, down))
	w.do(chromedp.MouseClickXY(p[0], p[1]))
}

// drag moves a thing on the map by pixels.
func (w *tab) drag(find string, dx, dy float64) {
	w.t.Helper()
	x, y := w.at(find)
	left := chromedp.ButtonType(input.MouseButtonLeft)
	w.do(chromedp.MouseEvent(chromedp.MouseMoved, x, y), chromedp.MouseEvent(chromedp.MousePressed, x, y, left, chromedp.ClickCount(1)))
	for k := 1.0; k <= 4; k++ {
		w.do(chromedp.MouseEvent(chromedp.MouseMoved, x+dx*k/4, y+dy*k/4, left))
	}
	w.do(chromedp.MouseEvent(chromedp.MouseReleased, x+dx, y+dy, left, chromedp.ClickCount(1)))
}

// quiet waits until the map in full has come.
func (w *tab) quiet() {
	w.t.Helper()
	w.until(`/\d+ flights\.$/m.test(document.querySelector("#part-try .result").textContent) || document.querySelector("#fault:not([hidden])")`)
}

// faults are what the page complained of.
func (w *tab) faults() []string { return eval[[]string](w, "window.__faults") }

func quotedJS(s string) string { b, _ := json.Marshal(s); return string(b) }

// awaited leaves out what a browser says of a server that is away.
func awaited(faults []string) (out []string) {
	for _, f := range faults {
		if !strings.Contains(f, "Failed to fetch") && !strings.Contains(f, "cannot load") {
			out = append(out, f)
		}
	}
	return out
}

// lanesOf is how many lanes a block has.
func lanesOf(p search.Plan, block string) int {
	for _, r := range p.Searchers {
		for _, b := range r.Blocks {
			if b.Name == block {
				return b.Lanes
			}
		}
	}
	return 0
}
