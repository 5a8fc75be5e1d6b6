//go:build ignore

// Flat prints the JSON of its input as one line a value: the keys that lead to it, and what it is. Numbers have nine
// digits, since a sum in another order is another number in its last ones.
package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"slices"
)

func main() {
	in := json.NewDecoder(os.Stdin)
	in.UseNumber() // so that a whole number stands as it was written
	var v any
	if err := in.Decode(&v); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	flat("", v)
}

func flat(path string, v any) {
	switch v := v.(type) {
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			flat(path+"."+k, v[k])
		}
	case []any:
		fmt.Printf("%s[] %d\n", path, len(v))
		for i, x := range v {
			flat(fmt.Sprintf("%s[%d]", path, i), x)
		}
	case json.Number:
		x, err := v.Float64()
		if err != nil {
			fmt.Printf("%s %s\n", path, v)
			return
		}
		fmt.Printf("%s %.9g\n", path, x)
	default:
		text, _ := json.Marshal(v) // of what was JSON
		fmt.Printf("%s %s\n", path, text)
	}
}
