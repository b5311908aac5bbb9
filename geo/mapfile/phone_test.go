package mapfile

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// onPhone opens a file in a window of 390 by 844 points, a common phone's, and
// returns what a script says of it.
func (b *browser) onPhone(t *testing.T, file, script string, into any) {
	t.Helper()
	var target struct{ TargetID string }
	b.ask(t, "", "Target.createTarget", map[string]any{"url": "about:blank"}, &target)
	var page struct{ SessionID string }
	b.ask(t, "", "Target.attachToTarget", map[string]any{"targetId": target.TargetID, "flatten": true}, &page)
	b.ask(t, page.SessionID, "Emulation.setDeviceMetricsOverride",
		map[string]any{"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": true}, nil)
	b.ask(t, page.SessionID, "Page.enable", nil, nil)
	b.ask(t, page.SessionID, "Page.navigate", map[string]any{"url": "file://" + file}, nil)
	b.wait(t, nil, func(m message) bool { return m.Method == "Page.loadEventFired" })
	answer := struct{ Result struct{ Value any } }{}
	answer.Result.Value = into
	b.ask(t, page.SessionID, "Runtime.evaluate", map[string]any{"expression": script, "returnByValue": true}, &answer)
	b.ask(t, "", "Target.closeTarget", map[string]any{"targetId": target.TargetID}, nil)
}

// measured is what a phone shows of a sheet: how wide it is, the places in the
// grid, those of them that are broken over lines or cut off, and the size of
// the smallest letters outside the map.
const measured = `(() => {
  const out = {Width: document.documentElement.scrollWidth, Places: 0, Broken: [], Small: 1000, Scrolls: []}
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT)
  for (let n = walk.nextNode(); n; n = walk.nextNode()) {
    const e = n.parentElement
    if (!n.data.trim() || e.closest("svg") || !e.getClientRects().length) continue
    out.Small = Math.min(out.Small, parseFloat(getComputedStyle(e).fontSize))
    for (const m of n.data.matchAll(/30S TJ \d{5} \d{5}/g)) {
      const r = document.createRange()
      r.setStart(n, m.index)
      r.setEnd(n, m.index + m[0].length)
      out.Places++
      const box = r.getBoundingClientRect()
      if (box.height > 30 || box.right > 390 || box.left < 0) out.Broken.push(m[0])
    }
  }
  for (const e of document.body.querySelectorAll("*"))
    if (!e.closest("svg") && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display != "inline") out.Scrolls.push(e.outerHTML.slice(0, 80))
  return out
})()`

// On a phone nothing of a sheet scrolls sideways, whatever the plan, grid places
// are whole, and letters are 14 points and more.
func TestSheetOnAPhone(t *testing.T) {
	b := browse(t)
	for name, change := range map[string]func(*Landing){
		"as drawn": func(*Landing) {},
		"dense":    func(l *Landing) { zigzag(l, 80, 2) },
		"fine":     func(l *Landing) { zigzag(l, 250, 6) },
		"enough":   func(l *Landing) { l.Plan.Enough.Minutes = 1 },
	} {
		l := demo()
		change(l)
		var got struct {
			Width, Places int
			Broken        []string
			Scrolls       []string
			Small         float64
		}
		b.onPhone(t, written(t, l, "sheet", Options{}), measured, &got)
		assert.LessOrEqual(t, got.Width, 390, name)
		assert.GreaterOrEqual(t, got.Places, 4, name)
		assert.Empty(t, got.Broken, name)
		assert.Empty(t, got.Scrolls, name)
		assert.GreaterOrEqual(t, got.Small, 14.0, name)
	}
}
