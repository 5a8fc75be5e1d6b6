package output

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

// List is the name of a folder's list of what was written into it: a line a file, its SHA-256 and its name, which
// `sha256sum -c` reads.
const List = "written.sha256"

// Folder is a folder that is written as a whole. Its list tells, also of files that carry no mark, which of them are
// still as they were written.
type Folder struct {
	writer Writer
	path   string
	mu     sync.Mutex
	wrote  map[string][]string // digests that a file may have, the last one written last
}

// Folder makes the folder where it is missing, and reads its list.
func (w Writer) Folder(path string) (*Folder, error) {
	if err := os.MkdirAll(path, 0o755); err != nil {
		return nil, failed(path, err)
	}
	f := &Folder{writer: w, path: path, wrote: map[string][]string{}}
	list, err := os.ReadFile(filepath.Join(path, List))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, failed(filepath.Join(path, List), err)
	}
	for line := range strings.Lines(string(list)) {
		if digest, name, ok := strings.Cut(strings.TrimSuffix(line, "\n"), "  "); ok && len(digest) == 2*sha256.Size {
			f.wrote[name] = append(f.wrote[name], digest)
		}
	}
	return f, writable(path, path)
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// Changed is true of a file that was written here and is there no longer as it was: somebody's own work by now.
func (f *Folder) Changed(name string) bool {
	data, err := os.ReadFile(filepath.Join(f.path, filepath.FromSlash(name)))
	f.mu.Lock()
	defer f.mu.Unlock()
	return err == nil && f.wrote[name] != nil && !slices.Contains(f.wrote[name], digest(data))
}

// Try is every file among these that is there and was not written here, or was changed since.
func (f *Folder) Try(names ...string) error {
	var errs []error
	for _, name := range names {
		errs = append(errs, f.allowed(name, nil))
	}
	return All(errs...)
}

func (f *Folder) allowed(name string, data []byte) error {
	path := filepath.Join(f.path, filepath.FromSlash(name))
	have, err := os.ReadFile(path)
	if err != nil || f.writer.Force {
		return f.writer.allowed(path, data)
	}
	for _, in := range f.writer.Inputs {
		if within(in, path) {
			return isRead(path)
		}
	}
	f.mu.Lock()
	mine := slices.Contains(f.wrote[name], digest(have))
	f.mu.Unlock()
	if mine || ours(path, have) || data != nil && string(have) == string(data) {
		return nil
	}
	return unwritten(path, theirs)
}

// within is true of a file that an input is, or that stands in the folder that an input is.
func within(in, path string) bool {
	a, err := os.Stat(in)
	if err != nil {
		return false
	}
	for at := path; ; at = filepath.Dir(at) {
		if b, err := os.Stat(at); err == nil && os.SameFile(a, b) {
			return true
		}
		if next := filepath.Dir(at); next == at || !a.IsDir() {
			return false
		}
	}
}

// Write writes a file of the folder; name is its path within, with slashes.
func (f *Folder) Write(name string, content []byte) error {
	path := filepath.Join(f.path, filepath.FromSlash(name))
	data := marked(path, content)
	if err := f.allowed(name, data); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return failed(path, err)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	// The list tells first: a stop between the two leaves a line that nothing answers to, and never a file of ours
	// that is taken for somebody's.
	f.wrote[name] = append(f.wrote[name], digest(data))
	if err := f.list(); err != nil {
		return err
	}
	return replace(path, data)
}

// Close leaves one line a file in the list.
func (f *Folder) Close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	for name, digests := range f.wrote {
		f.wrote[name] = digests[len(digests)-1:]
	}
	return f.list()
}

func (f *Folder) list() error {
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(f.wrote)) {
		for _, d := range f.wrote[name] {
			fmt.Fprintf(&b, "%s  %s\n", d, name)
		}
	}
	return replace(filepath.Join(f.path, List), []byte(b.String()))
}
