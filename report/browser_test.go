package report_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"sidelap/report/internal/sample"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// browser starts headless Chromium, or skips without it; CI must have it.
func browser(t *testing.T, listen func(any)) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("CI") == "true" {
			t.Fatal("chromium is needed in CI")
		}
		t.Skip("chromium is not installed")
	}
	ctx, cancel := chromedp.NewContext(context.Background(), chromedp.WithListener(listen), chromedp.WithAllocatorOptions(
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-gpu", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true)))
	ctx, cancelTime := context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(func() {
		cancelTime()
		cancel()
	})
	return ctx
}

func evaluate[T any](ctx context.Context, t *testing.T, js string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js))
	if err != nil {
		t.Fatalf("%v: %s", err, js)
	}
	return v
}

// The page in a browser: no request but the file, no message on the console, no
// sideways scrolling at phone, laptop and print width, sorting, zoom, values,
// layers; all figures with a text for those who do not see them.
func TestHTMLInBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	var mu sync.Mutex
	var requests, messages []string
	ctx := browser(t, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := ev.(type) {
		case *network.EventRequestWillBeSent:
			if !strings.HasPrefix(e.Request.URL, "data:") {
				requests = append(requests, e.Request.URL)
			}
		case *runtime.EventConsoleAPICalled:
			messages = append(messages, fmt.Sprint(e.Type))
		case *runtime.EventExceptionThrown:
			messages = append(messages, e.ExceptionDetails.Text)
		}
	})
	path, err := filepath.Abs(filepath.Join(folder(t, sample.Failing()), "report.html"))
	if err != nil {
		t.Fatal(err)
	}
	do := func(steps ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		if err := chromedp.Do(ctx, steps...); err != nil {
			t.Fatal(err)
		}
	}
	do(chromedp.EmulateViewport(1280, 800), chromedp.Navigate("file://"+filepath.ToSlash(path)), chromedp.WaitReady("#map"))
	unlabelled := evaluate[int](ctx, t, `document.querySelectorAll("svg[role=img]:not([aria-label]), img:not([alt])").length`)
	headings := evaluate[int](ctx, t, `document.querySelectorAll("h1").length`)
	const wide = `document.documentElement.scrollWidth - innerWidth`
	const viewBox = `document.getElementById("map").getAttribute("viewBox")`
	var overflow [2]int
	overflow[0] = evaluate[int](ctx, t, wide)
	before := evaluate[string](ctx, t, viewBox)
	do(chromedp.Click("#map-in"))
	after := evaluate[string](ctx, t, viewBox)
	do(chromedp.Click("#map-all"))
	box := evaluate[string](ctx, t, viewBox)
	sorted := evaluate[string](ctx, t, `(function () {
		var t = Array.from(document.querySelectorAll("table")).find(t => t.caption && t.caption.textContent === "Check points");
		var b = Array.from(t.querySelectorAll("th button")).find(b => b.textContent === "dz [m]");
		b.click(); b.click();
		return t.tBodies[0].rows[0].cells[0].textContent + " " + b.parentNode.getAttribute("aria-sort") + " " + t.tBodies[0].rows[t.tBodies[0].rows.length - 1].cells[0].textContent;
	})()`)
	value := evaluate[string](ctx, t, `(function () {
		var m = document.getElementById("map"), r = m.getBoundingClientRect();
		m.dispatchEvent(new PointerEvent("pointermove", { clientX: r.left + 0.2 * r.width, clientY: r.top + 0.45 * r.height, bubbles: true }));
		return document.getElementById("map-value").textContent;
	})()`)
	do(chromedp.Click(`[data-layer="on-checks"]`))
	hidden := evaluate[bool](ctx, t, `getComputedStyle(document.querySelector("#map .on-checks")).display === "none"`)
	do(chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile))
	overflow[1] = evaluate[int](ctx, t, wide)
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF())
	if err != nil {
		t.Fatal(err)
	}
	mu.Lock()
	defer mu.Unlock()
	if len(requests) != 1 || !strings.HasSuffix(requests[0], "report.html") {
		t.Errorf("requests: %v", requests)
	}
	if len(messages) > 0 {
		t.Errorf("console: %v", messages)
	}
	if overflow[0] > 0 || overflow[1] > 0 {
		t.Errorf("the page scrolls sideways by %v pixels (laptop, phone)", overflow)
	}
	if unlabelled != 0 || headings != 1 {
		t.Errorf("%d figures without a text, %d main headings", unlabelled, headings)
	}
	if before == after || before != box {
		t.Errorf("zoom: %q, %q, whole map %q", before, after, box)
	}
	if want := "CP08 descending CP38"; sorted != want { // the worst first, the one without dz last
		t.Errorf("sorted by dz: %q, want %q", sorted, want)
	}
	if !strings.Contains(value, "separation -") && !strings.Contains(value, "separation 0.") {
		t.Errorf("value under the pointer: %q", value)
	}
	if !hidden {
		t.Error("the layer of check points does not switch off")
	}
	out := filepath.Join(t.TempDir(), "print.pdf")
	if err := os.WriteFile(out, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	if text := run(t, "pdftotext", "-layout", out, "-"); !strings.Contains(text, "CP38") || !strings.Contains(text, "licence number") || strings.Contains(text, "whole map") {
		t.Error("the print lacks the check points or the sign-off, or shows the map's buttons")
	}
}
