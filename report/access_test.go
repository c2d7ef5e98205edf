package report_test

import (
	"context"
	"path/filepath"
	"testing"

	"sidelap/report/internal/sample"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// media makes the browser show a page as in print, or in a reader's colour scheme.
func media(kind, scheme string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		p := emulation.SetEmulatedMediaParams{Media: kind}
		if scheme != "" {
			p.Features = []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}
		}
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, p)
		return chromedp.Void{}, err
	}
}

// faintTexts lists the visible texts whose contrast with the ground behind them, as
// the browser computes colours, is below that of WCAG 2.1, success criterion 1.4.3:
// 4.5, for large texts 3.
const faintTexts = `(function () {
	var parse = function (c) { var m = c.match(/[\d.]+/g); return m ? m.map(Number) : [0, 0, 0, 0]; };
	var light = function (c) {
		var f = function (v) { v /= 255; return v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4); };
		return 0.2126 * f(c[0]) + 0.7152 * f(c[1]) + 0.0722 * f(c[2]);
	};
	var ground = function (e) {
		for (; e; e = e.parentElement) {
			var c = parse(getComputedStyle(e).backgroundColor);
			if (c.length < 4 || c[3] > 0.99) { return c; }
		}
		return [255, 255, 255];
	};
	var bad = [], n = 0, w = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	while (w.nextNode()) {
		var e = w.currentNode.parentElement, text = w.currentNode.textContent.trim();
		if (!text || e.closest("script, style, title, details:not([open]) > :not(summary)") || !e.getClientRects().length) { continue; }
		var s = getComputedStyle(e), svg = e instanceof SVGElement;
		var a = light(parse(svg ? s.fill : s.color)), b = light(ground(e));
		var k = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), size = parseFloat(s.fontSize);
		n++;
		if (k < (size >= 24 || size >= 18.66 && s.fontWeight >= 700 ? 3 : 4.5)) { bad.push(text.slice(0, 40) + " " + k.toFixed(2)); }
	}
	return n < 300 ? ["only " + n + " texts"] : bad.slice(0, 12);
})()`

// structure lists what a reader who does not see the page would miss: headings that skip a level, tables
// without caption or heads, fields and figures without a name, links that lead nowhere.
const structure = `(function () {
	var out = [], last = 0, each = function (q, f) { document.querySelectorAll(q).forEach(f); };
	each("h1,h2,h3,h4", function (h) { var l = Number(h.tagName[1]); if (l > last + 1) { out.push("h" + l + " after h" + last + ": " + h.textContent); } last = l; });
	each("table", function (t) { if (!t.caption || !t.caption.textContent || !t.querySelector("th[scope]")) { out.push("table: " + t.textContent.slice(0, 40)); } });
	each("svg[role=img]", function (s) { if ((s.getAttribute("aria-label") || "").length < 5) { out.push("svg without a text"); } });
	each("svg:not([role=img]):not([aria-hidden=true])", function () { out.push("svg without a role"); });
	each("img:not([alt])", function () { out.push("img without alt"); });
	each("button", function (b) { if (!(b.getAttribute("aria-label") || b.textContent.trim())) { out.push("button without a name"); } });
	each("input", function (i) { if (!i.closest("label") || !i.closest("label").textContent.trim()) { out.push("input without a label"); } });
	each("a[href^='#']", function (a) { if (!document.getElementById(a.getAttribute("href").slice(1))) { out.push("link to nowhere: " + a.textContent); } });
	each("[id]", function (e) { if (document.querySelectorAll("#" + CSS.escape(e.id)).length > 1) { out.push("twice: " + e.id); } });
	if (document.documentElement.lang !== "en") { out.push("no language"); }
	return out.slice(0, 12);
})()`

// The page in light, dark and print, at phone, laptop and print width: every text can be read, nothing makes
// the page scroll sideways, and its structure is told to those who do not see it.
func TestHTMLAccess(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	ctx := browser(t, func(any) {})
	for name, s := range map[string]*sample.Survey{"failing": sample.Failing(), "feet": sample.Feet()} {
		path, err := filepath.Abs(filepath.Join(folder(t, s), "report.html"))
		if err != nil {
			t.Fatal(err)
		}
		do := func(a chromedp.Action[chromedp.Void]) {
			t.Helper()
			if err := chromedp.Do(ctx, a); err != nil {
				t.Fatal(err)
			}
		}
		do(chromedp.EmulateViewport(1280, 800))
		do(chromedp.Navigate("file://" + filepath.ToSlash(path)))
		do(chromedp.WaitReady("#map"))
		for _, m := range []string{"light", "dark"} {
			do(media("", m))
			if bad := evaluate[[]string](ctx, t, faintTexts); len(bad) > 0 {
				t.Errorf("%s, %s: too faint: %q", name, m, bad)
			}
		}
		if bad := evaluate[[]string](ctx, t, structure); len(bad) > 0 {
			t.Errorf("%s: %q", name, bad)
		}
		do(media("print", ""))
		if bad := evaluate[[]string](ctx, t, faintTexts); len(bad) > 0 {
			t.Errorf("%s, print: too faint: %q", name, bad)
		}
		const wide = `document.documentElement.scrollWidth - innerWidth`
		for _, w := range []int64{680, 720} { // A4 and letter less the margins, at 96 pixels an inch
			do(chromedp.EmulateViewport(w, 1000))
			if n := evaluate[int](ctx, t, wide); n > 0 {
				t.Errorf("%s: on paper of %d pixels %d are cut off", name, w, n)
			}
		}
		do(media("", "light"))
		for _, w := range []int64{360, 390, 820, 1280} {
			do(chromedp.EmulateViewport(w, 844))
			if n := evaluate[int](ctx, t, wide); n > 0 {
				t.Errorf("%s: at %d pixels the page scrolls sideways by %d", name, w, n)
			}
		}
	}
	// The test can fail: a text made faint and a skipped heading are noticed.
	if err := chromedp.Do(ctx, media("", "light")); err != nil {
		t.Fatal(err)
	}
	if n := evaluate[int](ctx, t, `document.querySelector("main p").style.color = "#ccc", document.querySelector("h2").outerHTML = "<h4>x</h4>", `+faintTexts+`.length * 100 + `+structure+`.length`); n < 101 {
		t.Errorf("damage to the page is not noticed: %d", n)
	}
}
