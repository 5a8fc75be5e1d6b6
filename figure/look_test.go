package figure_test

import (
	"os"
	"testing"

	"spile/figure"
)

func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	if dir == "" {
		t.Skip()
	}
	for _, s := range []struct {
		n string
		s figure.Size
	}{{"phone", figure.Phone}, {"page", figure.Page}, {"slide", figure.Slide}} {
		for k, sh := range map[string]*figure.Sheet{
			"bars12":   bars(12, english[:4]).Draw(s.s),
			"bars30":   bars(30, english[:5]).Draw(s.s),
			"bars200f": bars(200, french).Draw(s.s),
			"age":      ageing(24, false).Draw(s.s),
			"agef":     ageing(200, true).Draw(s.s),
			"net8":     net(8, english).Draw(s.s),
			"net20f":   net(20, french).Draw(s.s),
			"int3":     intervals(3, english[:2]).Draw(s.s),
			"int30":    intervals(30, english[:5]).Draw(s.s),
			"int200f":  intervals(200, french).Draw(s.s),
		} {
			p, err := sh.PNG(130)
			if err != nil {
				t.Fatal(err)
			}
			os.WriteFile(dir+"/"+k+"-"+s.n+".png", p, 0o644)
			os.WriteFile(dir+"/"+k+"-"+s.n+".svg", sh.SVGFile(), 0o644)
		}
	}
}
