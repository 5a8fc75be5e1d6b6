// Package output writes what the program makes, and never over what it did not make.
//
// A file may take the place of another only where that one can be told for ours and unchanged: it carries the mark of
// its own content, it stands in its folder's list with the digest that it has, or its bytes are those to be written.
// What is written stands beside the old file first and takes its name at once, so that a full disk or a kill leaves
// the old file whole.
package output

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"

	"spile/internal/note"
)

// Writer writes files for one call.
type Writer struct {
	Inputs []string // files and folders that the same call reads: none of them is written over
	Force  bool     // whatever stands there is written over
}

// Unwritten is the error of what cannot be written; what goes there may well have been computed. It holds note.Faults.
type Unwritten struct {
	note.Faults
	Input bool // the call reads what it is to write
}

func (e Unwritten) Unwrap() error { return e.Faults }

func unwritten(path string, n note.Note) error {
	return Unwritten{Faults: note.Faults{n.At(note.Where{File: path})}}
}

// All is several errors of this package as one; nil where none is one.
func All(errs ...error) error {
	var all Unwritten
	for _, err := range errs {
		var own Unwritten
		if errors.As(err, &own) {
			all = Unwritten{append(all.Faults, own.Faults...), all.Input || own.Input}
		}
	}
	if all.Faults == nil {
		return nil
	}
	return all
}

// isRead is the fault of a file that the same call reads.
func isRead(path string) error {
	n := note.New("is what this call reads, and stays as it is; allowed: another name, or --force")
	return Unwritten{note.Faults{n.At(note.Where{File: path})}, true}
}

// failed is the fault of a place that the system refuses.
func failed(path string, err error) error {
	var at *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &at):
		err = at.Err
	case errors.As(err, &link):
		err = link.Err
	}
	if errors.Is(err, fs.ErrNotExist) {
		return unwritten(path, note.New("cannot be written: there is no such folder; allowed: one that is there"))
	}
	return unwritten(path, note.New("cannot be written: %s", err.Error()))
}

// Try says whether a file may be written at path, and can be; nothing is changed. It is asked before anything is
// computed, and again as the file is written.
func (w Writer) Try(path string) error {
	if err := w.allowed(path, nil); err != nil {
		return err
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return nil
	}
	return writable(filepath.Dir(path), path)
}

// writable says whether a file can be made in a folder.
func writable(folder, path string) error {
	f, err := os.CreateTemp(folder, part)
	if err != nil {
		return failed(path, err)
	}
	f.Close()
	return os.Remove(f.Name())
}

// File writes a file, with the mark of its content where its format has room for one.
func (w Writer) File(path string, content []byte) error {
	data := marked(path, content)
	if err := w.allowed(path, data); err != nil {
		return err
	}
	return replace(path, data)
}

// allowed is the fault of a file that may not be written over; data is what is to be written, where that is known.
func (w Writer) allowed(path string, data []byte) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return failed(path, err)
	case info.IsDir():
		return unwritten(path, note.New("is a folder; allowed: the name of a file"))
	case !info.Mode().IsRegular() || w.Force: // a terminal or a pipe keeps nothing
		return nil
	}
	for _, in := range w.Inputs {
		if is, err := os.Stat(in); err == nil && os.SameFile(is, info) {
			return isRead(path)
		}
	}
	have, err := os.ReadFile(path)
	if err != nil {
		return failed(path, err)
	}
	if data == nil && !known(path) {
		// Whether its bytes are those to be written is not known before they are.
		return nil
	}
	if ours(path, have) || data != nil && bytes.Equal(have, data) {
		return nil
	}
	return unwritten(path, theirs)
}

// theirs is said of a file that is not ours, or no longer as we wrote it.
var theirs = note.New("is there, and is not what spile wrote there; it stays as it is; allowed: another name, or " +
	"--force")

// known is true of a format that can carry a mark, so that a look at the file tells whether it is ours.
func known(path string) bool {
	_, ok := roomOf(path)
	return ok
}

// part is the pattern of a file's name while it is being written.
const part = ".spile-*.part"

// parts are the files that are being written, so that a stop can take them away.
var parts = struct {
	sync.Mutex
	names map[string]bool
}{names: map[string]bool{}}

// Abandon takes away what is half written: a stopped call leaves nothing behind. Nothing is written after it.
func Abandon() {
	parts.Lock() // and never unlocked: who would write waits until the program has ended
	for name := range parts.names {
		os.Remove(name)
	}
}

// replace puts data under a name at once: whole, or not at all.
func replace(path string, data []byte) error {
	mode := fs.FileMode(0o644)
	if info, err := os.Stat(path); err == nil {
		if !info.Mode().IsRegular() {
			return pour(path, data)
		}
		mode = info.Mode().Perm()
		if target, err := filepath.EvalSymlinks(path); err == nil {
			path = target // a link stays, and what it leads to is written
		}
	}
	parts.Lock()
	f, err := os.CreateTemp(filepath.Dir(path), part)
	if err == nil {
		parts.names[f.Name()] = true
	}
	parts.Unlock()
	if err != nil {
		return failed(path, err)
	}
	_, err = f.Write(data)
	err = errors.Join(err, f.Chmod(mode), f.Close())
	parts.Lock()
	defer parts.Unlock()
	delete(parts.names, f.Name())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
		return failed(path, err)
	}
	return nil
}

// pour writes into what is no file: a terminal, a pipe.
func pour(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|syscall.O_NONBLOCK, 0) // a pipe that nobody reads is not waited for
	if errors.Is(err, syscall.ENXIO) {
		return unwritten(path, note.New("is a pipe that nothing reads; allowed: a file"))
	}
	if err == nil {
		_, err = f.Write(data)
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		return failed(path, err)
	}
	return nil
}

// IsFolder is true of a path that names a folder: one that is there, or one that ends as folders do, in a separator or
// without an ending. A name with an ending that is not known, such as talk.doc, is no folder.
func IsFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir() || strings.HasSuffix(path, string(filepath.Separator)) ||
		strings.HasSuffix(path, "/") || filepath.Ext(path) == "" && (err != nil)
}
