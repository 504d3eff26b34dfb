package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"deskhand/scenes"
)

// measuring is added to a sheet by the test: the page as wide as the paper leaves it, and a
// script that says which boxes their content doesn't fit into, and how wide the labels and the
// ruler are, in CSS pixels of 1/96 inch. The sheet itself runs no script and forbids all.
const measuring = `<style>body { width: %vmm !important; max-width: none !important; padding: 0 !important; }</style>
<script>
const over = [], wide = e => e.getBoundingClientRect().width;
for (const e of document.body.querySelectorAll("*")) {
	if (e.clientWidth > 0 && (e.scrollWidth > e.clientWidth || e.scrollHeight > e.clientHeight))
		over.push(e.tagName + "." + e.className + ": " + e.textContent.slice(0, 60));
	if (e.getBoundingClientRect().right > document.body.getBoundingClientRect().right + 0.5)
		over.push("beyond the paper: " + e.tagName + "." + e.className);
}
const found = JSON.stringify({ Over: over, Ruler: wide(document.querySelector(".ruler")), Labels: [...document.querySelectorAll(".label")].map(wide) });
const said = document.createElement("pre");
said.textContent = "measured " + found + " so";
document.body.append(said);
</script>`

// nothingIsCutOff holds the boxes of a page against what is in them. The marks for the scissors
// stand out of their labels, and are meant to.
func nothingIsCutOff(t *testing.T, page []byte, s *scenes.Sheet, width float64, on paper) {
	t.Helper()
	const forbids = `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">`
	if bytes.Count(page, []byte(forbids)) != 1 {
		t.Fatal("the page doesn't forbid scripts")
	}
	measured := strings.Replace(string(page), forbids, "", 1)
	measured = strings.Replace(measured, "</body>", "<style>.label::before, .label::after, .edge::before, .edge::after { display: none; }</style>"+fmt.Sprintf(measuring, on.width-2*paperMargin)+"</body>", 1)
	_, dumped, _ := strings.Cut(string(browsed(t, []byte(measured), "--window-size=1400,1000", "--dump-dom")), "<pre>measured ")
	dumped, _, ok := strings.Cut(dumped, " so</pre>")
	if !ok {
		t.Fatal("the page was not measured")
	}
	var found struct {
		Over   []string
		Ruler  float64
		Labels []float64
	}
	if err := json.Unmarshal([]byte(dumped), &found); err != nil {
		t.Fatal(err)
	}
	for _, over := range found.Over {
		t.Error("is larger than its box:", over)
	}
	const tolerance = 0.05 // mm
	pixels := func(px float64) float64 { return px * 25.4 / 96 }
	if wide := pixels(found.Ruler); math.Abs(wide-100) > tolerance {
		t.Errorf("the ruler is %.2f mm long", wide)
	}
	want := 0
	for _, strip := range s.Strips {
		want += len(strip.Labels)
	}
	if len(found.Labels) != want {
		t.Errorf("%d labels, not %d", len(found.Labels), want)
	}
	for _, px := range found.Labels {
		if math.Abs(pixels(px)-width) > tolerance {
			t.Errorf("a label is %.3f mm wide, not %v", pixels(px), width)
		}
	}
}
