package figure_test

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"image/color"
	"image/png"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	xfont "golang.org/x/image/font"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"
	"gonum.org/v1/plot/vg/vgimg"
	"pgregory.net/rapid"

	"spile/internal/view/figure"
	"spile/internal/view/paper"
)

// box is the ground that a string's ink covers, in points from the top left corner.
type box struct {
	x0, y0, x1, y1 float64
	text           string
	size           float64
}

// glyphs holds the ink of each character at a size of 1000 points, by cut.
var glyphs = map[string]map[rune]fixed.Rectangle26_6{}

var styles = map[string]paper.Style{paper.Family + "-Regular": paper.Regular, paper.Family + "-Bold": paper.Bold,
	paper.Family + "-Italic": paper.Italic}

func ink(cut string, r rune) fixed.Rectangle26_6 {
	if glyphs[cut] == nil {
		glyphs[cut] = map[rune]fixed.Rectangle26_6{}
	}
	g, ok := glyphs[cut][r]
	if !ok {
		face := styles[cut].Face(1000)
		g, _ = xfont.BoundString(face.FontFace(72), string(r))
		glyphs[cut][r] = g
	}
	return g
}

func width(cut, text string, size float64) float64 {
	face := styles[cut].Face(vg.Length(size))
	return float64(face.Width(text)) // the plotting library's measure, not ours
}

// record plays a sheet to the recorder and gives the box of every string, and every point of its paths.
func record(s *figure.Sheet) (texts []box, points []vg.Point) {
	var c recorder.Canvas
	s.DrawOn(&c)
	h := float64(s.Height)
	for _, a := range c.Actions {
		switch a := a.(type) {
		case *recorder.FillString:
			size, cut := float64(a.Size), a.Font.Name()
			y0, y1 := math.Inf(1), math.Inf(-1)
			for _, r := range a.String {
				if g := ink(cut, r); g.Max.Y > g.Min.Y {
					y0 = min(y0, float64(g.Min.Y)/64/1000*size)
					y1 = max(y1, float64(g.Max.Y)/64/1000*size)
				}
			}
			if y1 < y0 {
				continue // only spaces
			}
			base := h - float64(a.Point.Y)
			texts = append(texts, box{float64(a.Point.X), base + y0, float64(a.Point.X) + width(cut, a.String, size),
				base + y1, a.String, size})
		case *recorder.Stroke:
			points = append(points, ends(a.Path)...)
		case *recorder.Fill:
			points = append(points, ends(a.Path)...)
		}
	}
	return texts, points
}

func ends(p vg.Path) (at []vg.Point) {
	for _, c := range p {
		if c.Type != vg.CloseComp {
			at = append(at, c.Pos)
		}
	}
	return at
}

// check reports strings that meet or leave the canvas, and marks that leave it.
func check(s *figure.Sheet, size figure.Size) error {
	texts, points := record(s)
	w, h := float64(s.Width), float64(s.Height)
	const hair = 0.05
	for _, b := range texts {
		if b.x0 < -hair || b.y0 < -hair || b.x1 > w+hair || b.y1 > h+hair {
			return fmt.Errorf("%q at %.1f,%.1f to %.1f,%.1f leaves the canvas of %.0f × %.0f", b.text, b.x0, b.y0, b.x1,
				b.y1, w, h)
		}
		if size == figure.Slide && b.size < 24 {
			return fmt.Errorf("%q is set in %.1f points on a slide", b.text, b.size)
		}
	}
	slices.SortFunc(texts, func(a, b box) int {
		switch {
		case a.y0 < b.y0:
			return -1
		case a.y0 > b.y0:
			return 1
		}
		return 0
	})
	for i, a := range texts {
		for _, b := range texts[i+1:] {
			if b.y0 > a.y1-hair {
				if b.y0 > a.y1+60 {
					break
				}
				continue
			}
			if a.x0 < b.x1-hair && b.x0 < a.x1-hair && a.y0 < b.y1-hair {
				return fmt.Errorf("%q at %.1f,%.1f to %.1f,%.1f meets %q at %.1f,%.1f to %.1f,%.1f", a.text, a.x0, a.y0,
					a.x1, a.y1, b.text, b.x0, b.y0, b.x1, b.y1)
			}
		}
	}
	for _, p := range points {
		x, y := float64(p.X), float64(p.Y)
		if !(x >= -1 && y >= -1 && x <= w+1 && y <= h+1) {
			return fmt.Errorf("a mark at %.1f,%.1f leaves the canvas of %.0f × %.0f", x, y, w, h)
		}
	}
	return nil
}

var sizes = []struct {
	name string
	size figure.Size
}{{"phone", figure.Phone}, {"page", figure.Page}, {"slide", figure.Slide}}

func TestLabelsKeepClear(t *testing.T) {
	for _, s := range sizes {
		for _, n := range []int{1, 3, 8, 12, 20, 35, 80, 200} {
			for which, names := range map[string][]string{"english": english, "french": french} {
				for name, sheet := range map[string]*figure.Sheet{
					"bars":      bars(n, names).Draw(s.size),
					"intervals": intervals(n, names).Draw(s.size),
					"ageing":    ageing(n, which == "french").Draw(s.size),
					"net":       net(min(n, 40), names).Draw(s.size),
				} {
					if err := check(sheet, s.size); err != nil {
						t.Errorf("%s, %d, %s, %s: %v", name, n, which, s.name, err)
					}
				}
			}
		}
	}
}

// Whatever the words and numbers, nothing overlaps and nothing leaves the sheet.
func TestAnyWordsKeepClear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom(sizes).Draw(t, "size")
		word := rapid.StringOfN(rapid.SampledFrom([]rune("aéèmWllœ  -'ç")), 1, 60, -1)
		number := rapid.OneOf(rapid.Float64Range(-100, 300),
			rapid.SampledFrom([]float64{0, 1e9, -1e9, math.NaN(), math.Inf(1)}))
		w := figure.Words{Title: word.Draw(t, "title"), Left: func(n int) string { return fmt.Sprint(n, " more") },
			Notes: rapid.SliceOfN(word, 0, 12).Draw(t, "notes")}
		marks := rapid.SliceOfN(rapid.IntRange(1, 12), 0, 3)
		span := func() figure.Range { return figure.Range{Low: number.Draw(t, "low"), High: number.Draw(t, "high")} }
		bars := figure.Bars{Words: w, Axis: word.Draw(t, "axis"),
			Key: figure.BarsKey{Study: word.Draw(t, "key"), Weak: word.Draw(t, "key"), Mean: word.Draw(t, "key"),
				Part: word.Draw(t, "key")}}
		intervals := figure.Intervals{Words: w, Axis: bars.Axis,
			Head: figure.IntervalsHead{Study: word.Draw(t, "head"), Gain: word.Draw(t, "head"),
				Weight: word.Draw(t, "head")},
			Key: figure.IntervalsKey{Study: bars.Key.Study, Weak: bars.Key.Weak, Out: bars.Key.Part,
				Pooled: bars.Key.Mean, Season: word.Draw(t, "key")}}
		age := figure.Ageing{Words: w,
			Gain: figure.AgePanel{Title: word.Draw(t, "title"), X: word.Draw(t, "x"), Y: word.Draw(t, "y"), Oldest: 3,
				NoEvidence: word.Draw(t, "none"), Point: word.Draw(t, "point")},
			Profit: &figure.LengthPanel{Title: word.Draw(t, "title"), X: word.Draw(t, "x"), Y: word.Draw(t, "y"),
				Best: 2, BestName: word.Draw(t, "best"), FlatFrom: 1, FlatTo: 3, FlatName: word.Draw(t, "flat")}}
		net := figure.Net{Words: w, Axis: bars.Axis,
			Panels: []figure.NetPanel{{Title: word.Draw(t, "panel")}, {Title: word.Draw(t, "panel")}},
			Key: figure.NetKey{AddedReturns: word.Draw(t, "key"), ReducedCosts: word.Draw(t, "key"),
				AddedCosts: word.Draw(t, "key"), ReducedReturns: word.Draw(t, "key"), Net: word.Draw(t, "key"),
				HeldBack: word.Draw(t, "key"), NotStudied: word.Draw(t, "key")}}
		for range rapid.IntRange(0, 9).Draw(t, "groups") {
			g := figure.BarGroup{Name: word.Draw(t, "name"), Mean: new(number.Draw(t, "mean")), Value: "61 %",
				Part: new(number.Draw(t, "part"))}
			ig := figure.IntervalGroup{Name: g.Name,
				Pooled: &figure.Pooled{Name: word.Draw(t, "pooled"), Gain: *g.Mean, Range: span(), Season: span(),
					Value: word.Draw(t, "value")}}
			for range rapid.IntRange(0, 12).Draw(t, "studies") {
				s := figure.Bar{Name: word.Draw(t, "study"), Gain: number.Draw(t, "gain"), Value: "123",
					Weak: rapid.Bool().Draw(t, "weak"), Marks: marks.Draw(t, "marks")}
				g.Studies = append(g.Studies, s)
				ig.Studies = append(ig.Studies,
					figure.Study{Name: s.Name, Gain: s.Gain, Range: span(), Value: word.Draw(t, "value"),
						Weight: number.Draw(t, "weight"), Share: "12.3", Weak: s.Weak, Marks: s.Marks})
				age.Gain.Points = append(age.Gain.Points,
					figure.AgePoint{Age: float64(len(age.Gain.Points) % 5), Gain: s.Gain, Range: span(), Weak: s.Weak})
			}
			bars.Groups, intervals.Groups = append(bars.Groups, g), append(intervals.Groups, ig)
			age.Profit.Lengths = append(age.Profit.Lengths,
				figure.Length{Every: len(age.Profit.Lengths) + 1, Net: *g.Mean, Range: span(),
					Studied: len(age.Profit.Lengths) < 4})
			for i := range net.Panels {
				net.Panels[i].Rows = append(net.Panels[i].Rows,
					figure.NetRow{Name: g.Name, AddedReturns: math.Abs(number.Draw(t, "part")),
						AddedCosts: math.Abs(number.Draw(t, "part")),
						Net:        number.Draw(t, "net"), Range: span(), Value: "$1.23", Best: i == 0,
						HeldBack: rapid.Bool().Draw(t, "held"), NotStudied: rapid.Bool().Draw(t, "unstudied")})
			}
		}
		for name, s := range map[string]*figure.Sheet{"bars": bars.Draw(size.size),
			"intervals": intervals.Draw(size.size), "ageing": age.Draw(size.size), "net": net.Draw(size.size)} {
			if err := check(s, size.size); err != nil {
				t.Fatalf("%s, %s: %v", name, size.name, err)
			}
		}
	})
}

// shown is all the words of a sheet.
func shown(s *figure.Sheet) string {
	texts, _ := record(s)
	var words []string
	for _, b := range texts {
		words = append(words, b.text)
	}
	return strings.Join(words, "\n")
}

// Four metres of rows help nobody: of more studies than that each is a part of a tick, on a page too.
func TestVeryManyStudiesAreTicks(t *testing.T) {
	for _, s := range sizes[:2] {
		for n, rows := range map[int]bool{400: true, 401: false, 5000: false} {
			for name, sheet := range map[string]*figure.Sheet{"bars": bars(n, english).Draw(s.size),
				"intervals": intervals(n, english).Draw(s.size)} {
				text := shown(sheet)
				if named, low := strings.Contains(text, "2014"), sheet.Height < 900; named != rows || low == rows {
					t.Errorf("%s of %d on a %s: named %v, %v high", name, n, s.name, named, sheet.Height)
				}
				if strings.Contains(text, "several studies") != (n == 5000) {
					t.Errorf("%s of %d on a %s: what a tick is, it says %v", name, n, s.name, n != 5000)
				}
				if err := check(sheet, s.size); err != nil && !rows {
					t.Errorf("%s of %d on a %s: %v", name, n, s.name, err)
				}
			}
		}
	}
}

// On a page every study is there, up to very many; a slide that leaves names out says so.
func TestNothingIsDroppedSilently(t *testing.T) {
	for _, n := range []int{3, 35, 200} {
		for _, s := range sizes {
			b, i := bars(n, english), intervals(n, english)
			for g := range b.Groups {
				for k := range b.Groups[g].Studies {
					b.Groups[g].Studies[k].Name = fmt.Sprintf("B%d.%d.", g, k)
					i.Groups[g].Studies[k].Name = b.Groups[g].Studies[k].Name
				}
			}
			for name, text := range map[string]string{"bars": shown(b.Draw(s.size)),
				"intervals": shown(i.Draw(s.size))} {
				missing := 0
				for _, g := range b.Groups {
					for _, x := range g.Studies {
						if !strings.Contains(text, x.Name) {
							missing++
						}
					}
					if !strings.Contains(strings.ReplaceAll(text, "\n", " "), strings.Fields(g.Name)[0]) {
						t.Errorf("%s, %d, %s: practice %q is not named", name, n, s.name, g.Name)
					}
				}
				if missing > 0 && (s.size != figure.Slide || name == "intervals" &&
					!strings.Contains(text, i.Ticks)) {
					t.Errorf("%s, %d, %s: %d studies are missing without a word", name, n, s.name, missing)
				}
			}
		}
		f := net(n, english)
		if n > 20 && !strings.Contains(shown(f.Draw(figure.Slide)), "not named") {
			t.Errorf("net, %d: a slide says nothing of the rows it leaves out", n)
		}
	}
}

// A footnote number never stands on a sheet without its note.
func TestFootnotesAreWhole(t *testing.T) {
	long := "the drops of the reference were younger than three seasons: the gain looks smaller than over old ones"
	for _, s := range sizes {
		for _, extra := range []int{0, 1, 4} {
			b, i := bars(12, english[:3]), intervals(4, english[:2])
			for k := range extra {
				b.Notes[k] = fmt.Sprintf("%d: %s", k, long)
			}
			i.Notes = b.Notes
			for name, x := range map[string]struct {
				text  string
				marks [][]int
			}{
				"bars": {shown(b.Draw(s.size)),
					[][]int{b.Groups[0].Studies[1].Marks, b.Groups[0].Studies[3].Marks}},
				"intervals": {shown(i.Draw(s.size)), [][]int{i.Groups[0].Studies[1].Marks}},
			} {
				text := strings.ReplaceAll(x.text, "\n", " ")
				for _, marks := range x.marks {
					for _, m := range marks {
						number := regexp.MustCompile(fmt.Sprintf(`(?m)^(\d,)*%d(,\d)*$`, m))
						if number.MatchString(x.text) && !strings.Contains(text, b.Notes[m-1]) {
							t.Errorf("%s, %s, %d long notes: note %d is not there in full", name, s.name, extra, m)
						}
					}
				}
			}
		}
	}
}

func TestSameBytes(t *testing.T) {
	draw := func() [][]byte {
		var all [][]byte
		for _, s := range sizes {
			for _, sheet := range []*figure.Sheet{bars(30, english).Draw(s.size), intervals(30, english).Draw(s.size),
				ageing(20, false).Draw(s.size), net(8, english).Draw(s.size)} {
				p, err := sheet.PNG(60)
				if err != nil {
					t.Fatal(err)
				}
				all = append(all, sheet.SVG(), sheet.SVGFile(), p)
			}
		}
		return all
	}
	one, two := draw(), draw()
	for i := range one {
		if !bytes.Equal(one[i], two[i]) {
			t.Errorf("file %d differs when drawn again", i)
		}
	}
}

func TestSVG(t *testing.T) {
	f := bars(12, french)
	f.Title = `Gains <of> "all" & more`
	for name, file := range map[string][]byte{"page": f.Draw(figure.Page).SVG(),
		"alone": f.Draw(figure.Page).SVGFile()} {
		d := xml.NewDecoder(bytes.NewReader(file))
		text := map[string]string{}
		for {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if e, ok := token.(xml.StartElement); ok && (e.Name.Local == "title" || e.Name.Local == "desc") {
				var s string
				if err := d.DecodeElement(&s, &e); err != nil {
					t.Fatal(err)
				}
				text[e.Name.Local] = s
			}
		}
		if text["title"] != f.Title || text["desc"] != f.Desc {
			t.Errorf("%s: title and description read back as %q", name, text)
		}
		if alone := name == "alone"; bytes.Contains(file, []byte("var(--ink,#")) == alone ||
			bytes.Contains(file, []byte("@font-face")) != alone {
			t.Errorf("%s: colours or fonts are those of the other kind", name)
		}
	}
}

// The PNG specification (W3C, second edition, 11.3.4.3): pHYs holds pixels per unit on both axes and 1 for the metre;
// 300 dots an inch are 11811 a metre.
func TestPNG(t *testing.T) {
	s := net(4, english).Draw(figure.Slide)
	file, err := s.PNG(300)
	if err != nil {
		t.Fatal(err)
	}
	c, err := png.DecodeConfig(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	if c.Width != 4000 || c.Height != 2250 {
		t.Errorf("%d × %d pixels, want 13.33 × 7.5 in at 300 dots", c.Width, c.Height)
	}
	if _, err := png.Decode(bytes.NewReader(file)); err != nil { // checks the sum of every chunk
		t.Error(err)
	}
	i := bytes.Index(file, []byte("pHYs"))
	if i < 0 {
		t.Fatal("the file does not say its resolution")
	}
	if x, y := binary.BigEndian.Uint32(file[i+4:]), binary.BigEndian.Uint32(file[i+8:]); x != 11811 || y != 11811 ||
		file[i+12] != 1 {
		t.Errorf("resolution %d × %d, unit %d", x, y, file[i+12])
	}
}

// Nothing is lost in a PNG: each dot is that of the drawing. And it is smaller than with the filters that image/png
// chooses line by line.
func TestPNGIsTheDrawing(t *testing.T) {
	const dpi = 72
	s := net(4, english).Draw(figure.Slide)
	file, err := s.PNG(dpi)
	if err != nil {
		t.Fatal(err)
	}
	got, err := png.Decode(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	paper := figure.Palette()[0].Light
	drawn := vgimg.NewWith(vgimg.UseWH(s.Width, s.Height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(paper))
	s.DrawOn(drawn)
	want := drawn.Image()
	if got.Bounds() != want.Bounds() {
		t.Fatalf("%v, drawn on %v", got.Bounds(), want.Bounds())
	}
	off := 0
	for y := range want.Bounds().Dy() {
		for x := range want.Bounds().Dx() {
			if color.RGBAModel.Convert(got.At(x, y)) != color.RGBAModel.Convert(want.At(x, y)) {
				off++
			}
		}
	}
	if off > 0 {
		t.Errorf("%d dots differ from the drawing", off)
	}
	var filtered bytes.Buffer
	if err := png.Encode(&filtered, got); err != nil {
		t.Fatal(err)
	}
	if t.Logf("%d bytes, with filters %d", len(file), filtered.Len()); len(file) > filtered.Len()*9/10 {
		t.Errorf("%d bytes, and with filters %d", len(file), filtered.Len())
	}
}

// Text must have a contrast of 4.5 on the paper (WCAG 2.1, 1.4.3, with its relative luminance).
func TestContrast(t *testing.T) {
	light := map[string]float64{}
	for _, c := range figure.Palette() {
		channel := func(v uint8) float64 {
			x := float64(v) / 255
			if x <= 0.03928 {
				return x / 12.92
			}
			return math.Pow((x+0.055)/1.055, 2.4)
		}
		light[c.Var] = 0.2126*channel(c.Light.R) + 0.7152*channel(c.Light.G) + 0.0722*channel(c.Light.B)
	}
	for _, name := range []string{"--ink", "--faint", "--accent"} {
		for _, ground := range []string{"--paper"} {
			if c := (light[ground] + 0.05) / (light[name] + 0.05); c < 4.5 {
				t.Errorf("%s on %s: contrast %.2f", name, ground, c)
			}
		}
	}
}

func BenchmarkSVG(b *testing.B) {
	for name, draw := range map[string]func() *figure.Sheet{
		"bars":      func() *figure.Sheet { return bars(45, english).Draw(figure.Page) },
		"intervals": func() *figure.Sheet { return intervals(45, english).Draw(figure.Page) },
		"ageing":    func() *figure.Sheet { return ageing(20, false).Draw(figure.Page) },
		"net":       func() *figure.Sheet { return net(9, english).Draw(figure.Page) },
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				draw().SVG()
			}
		})
	}
}

func BenchmarkPNG(b *testing.B) {
	s := intervals(45, english).Draw(figure.Page)
	for b.Loop() {
		if _, err := s.PNG(300); err != nil {
			b.Fatal(err)
		}
	}
}
