package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/internal/view/say"
)

// What a logger's file will take is said before it is read, where that is long.
func TestLargeFilesAreToldBefore(t *testing.T) {
	name := filepath.Join(t.TempDir(), "log.csv")
	for size, says := range map[int64]string{1e6: "", 199e6: "", 2687e6: "2687 MB: reading them takes about 107 s"} {
		if err := os.WriteFile(name, nil, 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Truncate(name, size); err != nil { // it takes no room
			t.Fatal(err)
		}
		var said bytes.Buffer
		o := &out{stderr: &said, voice: say.In("en")}
		o.large([]string{name, filepath.Join(t.TempDir(), "none.csv")})
		if got := said.String(); !strings.Contains(got, says) || says == "" && got != "" {
			t.Errorf("of %d bytes: %q", size, got)
		}
	}
}
