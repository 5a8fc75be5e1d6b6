package species

import "testing"

// Common names as they are used in English and in Québec (common practice, no source), botanical ones after the Flora
// of North America.
func TestOf(t *testing.T) {
	for name, want := range map[string]string{
		"érable à sucre": "sugar maple", "Érables à sucre": "sugar maple", "Hard Maple": "sugar maple",
		"ACER SACCHARUM": "sugar maple", "sugar maples": "sugar maple", " sugar  maple ": "sugar maple",
		"A. saccharum": "sugar maple", "sugar_maple": "sugar maple", "erable a sucre": "sugar maple",
		"Acer rubrum": "red maple", "érable rouge": "red maple", "Plaine rouge": "red maple", "soft maple": "red maple",
		"Acer saccharinum": "silver maple", "érable argenté": "silver maple",
		"Acer nigrum": "black maple", "érable noir": "black maple",
		"bouleau à papier": "paper birch", "Box elder": "boxelder",
		"Walnut": "walnut", "": "",
	} {
		if got := Of(name); got != want {
			t.Errorf("%q is %q, want %q", name, got, want)
		}
	}
}

// Birches and walnuts are no maples, whatever is known of them.
func TestMaple(t *testing.T) {
	for name, want := range map[string]bool{"": true, "sugar maple": true, "Érable rouge": true, "boxelder": true,
		"Norway maple": true, "érables mélangés": true, "Plaine": true, "paper birch": false, "merisier": false,
		"black walnut": false, "noyer": false} {
		if got := Maple(name); got != want {
			t.Errorf("%q: %v", name, got)
		}
	}
}

// A misspelt name is asked about; another tree, or a name that is known, is not.
func TestNear(t *testing.T) {
	for name, want := range map[string]string{"suger maple": "sugar maple", "Sugar mapel": "sugar maple",
		"erable a sucr": "sugar maple", "Acer sacharum": "sugar maple", "read maple": "red maple",
		"acer rubrun": "red maple",
		"sugar maple": "", "érable à sucre": "", "walnut": "", "": "", "white oak": "", "noyer cendré": "",
		// trees of their own (Flora of North America), whose names are like those of others as a whole
		"striped maple": "", "river birch": "", "silver birch": "", "érable rayé": "", "Acer spicatum": "",
		"mixed maple": "", "silver-maple": ""} {
		if got := Near(name); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

// No name stands for two trees, and each species is found under all of its own.
func TestNamesAreOfOneTree(t *testing.T) {
	seen := map[string]string{}
	for _, s := range List {
		for _, name := range append([]string{s.Name, s.Latin}, s.Names...) {
			if at := compare(name); seen[at] != "" && seen[at] != s.Name {
				t.Errorf("%s is %s and %s", name, seen[at], s.Name)
			} else {
				seen[at] = s.Name
			}
			if Of(name) != s.Name {
				t.Errorf("%s is %s, want %s", name, Of(name), s.Name)
			}
		}
	}
}
