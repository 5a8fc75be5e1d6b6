package effect

import "spile/internal/trade/evidence"

// moderators gives what a study states, uncentred. What it does not state is not in the map.
func moderators(s evidence.Study) map[string]float64 {
	m := map[string]float64{}
	mean := func(name string, of func(evidence.Arm) (float64, bool)) {
		sum, n := 0.0, 0
		for _, a := range s.Arms {
			if x, ok := of(a); ok {
				sum, n = sum+x, n+1
			}
		}
		if n > 0 {
			m[name] = sum / float64(n)
		}
	}
	mean(evidence.Vacuum, func(a evidence.Arm) (float64, bool) {
		if a.Vacuum == nil {
			return 0, false
		}
		return float64(*a.Vacuum), true
	})
	mean(evidence.LineAge, func(a evidence.Arm) (float64, bool) { return given(a.LineAge) })
	mean(evidence.Tubing, func(a evidence.Arm) (float64, bool) { return given(a.TubingIn) })
	mean("days-open", func(a evidence.Arm) (float64, bool) {
		if a.Tapped.IsZero() || a.LastRun.IsZero() {
			return 0, false
		}
		return a.LastRun.Sub(a.Tapped.Time).Hours() / 24, true
	})
	if r := s.Reference(); r >= 0 && s.Arms[r].DropAge != nil {
		m["reference-drop-age"] = float64(*s.Arms[r].DropAge)
	}
	return m
}

func given(x *float64) (float64, bool) {
	if x == nil {
		return 0, false
	}
	return *x, true
}
