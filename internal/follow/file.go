package follow

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// File follows a growing file.
type File struct {
	path  string
	info  os.FileInfo // of the file that was read last
	text  []byte
	given int  // bytes handed out last
	gone  bool // it is not there at present
	notes []string
}

// NewFile follows the file at path, which need not be there yet.
func NewFile(path string) *File { return &File{path: path} }

// Name is the path.
func (f *File) Name() string { return f.path }

// Notes tell what happened to the file.
func (f *File) Notes() []string { return f.notes }

// Close has nothing to do: the file is opened only while it is looked at.
func (f *File) Close() error { return nil }

// Look reads what was added. A file never ends: its logger may write again at any time.
func (f *File) Look() (text []byte, grew, ended bool, err error) {
	grew, err = f.look()
	text = whole(f.text)
	grew = grew || len(text) != f.given
	f.given = len(text)
	return text, grew, false, err
}

// look says whether what was known is no longer there.
func (f *File) look() (anew bool, err error) {
	r, err := os.Open(f.path)
	if errors.Is(err, fs.ErrNotExist) {
		if f.info != nil && !f.gone {
			f.gone = true
			f.notes = append(f.notes, "the log is gone; waiting for it to come back")
		}
		return false, nil
	}
	if err != nil {
		return false, err
	}
	defer r.Close()
	info, err := r.Stat()
	if err != nil {
		return false, err
	}
	if info.IsDir() {
		return false, fmt.Errorf("%s: it is a folder, not a log", f.path)
	}
	f.gone = false
	if f.info != nil {
		switch {
		case !os.SameFile(f.info, info):
			anew = true
			f.notes = append(f.notes, "the log was replaced by another of the same name; read anew")
		case info.Size() < int64(len(f.text)):
			anew = true
			f.notes = append(f.notes, "the log became shorter; read anew")
		case len(f.text) > 0 && info.ModTime() != f.info.ModTime() && !f.stands(r):
			anew = true
			f.notes = append(f.notes, "the log was written anew; read anew")
		}
	}
	if anew {
		f.text = nil
	}
	// zeros at the end may be filled in later
	for len(f.text) > 0 && f.text[len(f.text)-1] == 0 {
		f.text = f.text[:len(f.text)-1]
	}
	if _, err := r.Seek(int64(len(f.text)), io.SeekStart); err != nil {
		return anew, err
	}
	more, err := io.ReadAll(io.LimitReader(r, MostBytes-int64(len(f.text))+1))
	if err != nil {
		return anew, err
	}
	if len(f.text)+len(more) > MostBytes {
		return anew, fmt.Errorf("%s: the log is longer than %d MB; start a new one for this test", f.path, MostBytes>>20)
	}
	f.text = append(f.text, more...)
	f.info = info
	return anew, nil
}

// mark is how many bytes at both ends of what was read are compared, to see a file that was written anew and is longer already.
const mark = 256

// stands says whether what was read still stands in the file.
func (f *File) stands(r io.ReaderAt) bool {
	n := min(mark, len(f.text))
	var now [mark]byte
	for _, at := range []int{0, len(f.text) - n} {
		if _, err := r.ReadAt(now[:n], int64(at)); err != nil {
			return false
		}
		for i, c := range now[:n] {
			if was := f.text[at+i]; was != c && was != 0 { // zeros may have been filled in
				return false
			}
		}
	}
	return true
}
