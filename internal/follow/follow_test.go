package follow

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func look(t *testing.T, s Source) (string, bool) {
	t.Helper()
	text, grew, _, err := s.Look()
	if err != nil {
		t.Fatal(err)
	}
	return string(text), grew
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func add(t *testing.T, path, text string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err == nil {
		_, err = f.WriteString(text)
		err = firstOf(err, f.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
}

func firstOf(errs ...error) error {
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	return nil
}

func TestGrowingFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run.csv")
	f := NewFile(path)
	if text, grew := look(t, f); text != "" || grew {
		t.Fatalf("before it is there: %q, %v", text, grew)
	}
	write(t, path, "a\n1")
	if text, grew := look(t, f); text != "a\n" || !grew {
		t.Fatalf("a last line without its end: %q, %v", text, grew)
	}
	add(t, path, "2")
	if text, grew := look(t, f); text != "a\n" || grew {
		t.Fatalf("no whole line more: %q, %v", text, grew)
	}
	add(t, path, "3\nb\n")
	if text, grew := look(t, f); text != "a\n123\nb\n" || !grew {
		t.Fatalf("grown: %q, %v", text, grew)
	}
	write(t, path, "new\n") // truncated
	if text, grew := look(t, f); text != "new\n" || !grew {
		t.Fatalf("truncated: %q, %v", text, grew)
	}
	other := path + ".tmp"
	write(t, other, "whole file saved again\nlonger than before\n")
	if err := os.Rename(other, path); err != nil {
		t.Fatal(err)
	}
	if text, grew := look(t, f); text != "whole file saved again\nlonger than before\n" || !grew {
		t.Fatalf("replaced: %q, %v", text, grew)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if text, grew := look(t, f); !strings.HasPrefix(text, "whole file") || grew {
		t.Fatalf("gone: %q, %v", text, grew)
	}
	write(t, path, "back\n")
	if text, _ := look(t, f); text != "back\n" {
		t.Fatalf("back: %q", text)
	}
	notes := strings.Join(f.Notes(), "; ")
	for _, want := range []string{"shorter", "replaced", "gone"} {
		if !strings.Contains(notes, want) {
			t.Errorf("no note on %q: %s", want, notes)
		}
	}
}

// A file written anew in place that is at once longer than the old one.
func TestWrittenAnew(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run.csv")
	write(t, path, "old 1\nold 2\n")
	f := NewFile(path)
	look(t, f)
	write(t, path, "new 1\nnew 2\nnew 3\n")
	later := time.Now().Add(time.Minute) // clocks of file systems are coarse
	if err := os.Chtimes(path, later, later); err != nil {
		t.Fatal(err)
	}
	if text, grew := look(t, f); text != "new 1\nnew 2\nnew 3\n" || !grew {
		t.Fatalf("%q, %v", text, grew)
	}
}

// A logger that writes blocks of 64 bytes filled up with zeros, and later fills them in.
func TestBlocks(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run.csv")
	block := func(s string) string { return s + strings.Repeat("\x00", 64-len(s)) }
	write(t, path, block("a\n1\n2"))
	f := NewFile(path)
	if text, _ := look(t, f); text != "a\n1\n" {
		t.Fatalf("%q", text)
	}
	write(t, path, block("a\n1\n23\n4\n"))
	if text, _ := look(t, f); text != "a\n1\n23\n4\n" {
		t.Fatalf("%q, %v", text, f.Notes())
	}
	if len(f.Notes()) > 0 {
		t.Errorf("filling in is nothing to tell: %v", f.Notes())
	}
}

func TestUTF16(t *testing.T) {
	le := "\xff\xfe1\x00\n\x002\x00"
	if got := whole([]byte(le)); string(got) != "\xff\xfe1\x00\n\x00" {
		t.Errorf("%q", got)
	}
	be := "\xfe\xff\x001\x00\n\x002"
	if got := whole([]byte(be)); string(got) != "\xfe\xff\x001\x00\n" {
		t.Errorf("%q", got)
	}
}

// However a file is written, piece by piece and with looks between, the last look has all whole lines, and no look has half a line.
func TestPieces(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(r *rapid.T) {
		text := rapid.StringMatching(`([0-9a-c,]{0,12}\n?){0,12}`).Draw(r, "text")
		path := filepath.Join(dir, "run.csv")
		write(t, path, "")
		f := NewFile(path)
		for rest := text; rest != ""; {
			n := rapid.IntRange(1, len(rest)).Draw(r, "bytes")
			add(t, path, rest[:n])
			rest = rest[n:]
			got, _, _, err := f.Look()
			if err != nil {
				r.Fatal(err)
			}
			if !strings.HasPrefix(text, string(got)) || len(got) > 0 && got[len(got)-1] != '\n' {
				r.Fatalf("%q of %q", got, text)
			}
		}
		want := text[:strings.LastIndexByte(text, '\n')+1]
		if got, _ := look(t, f); got != want {
			r.Fatalf("%q, want %q", got, want)
		}
	})
}

func TestFolder(t *testing.T) {
	if _, _, _, err := NewFile(t.TempDir()).Look(); err == nil || !strings.Contains(err.Error(), "folder") {
		t.Errorf("%v", err)
	}
}

// await looks until a condition holds.
func await(t *testing.T, s Source, ok func(text string, ended bool) bool) {
	t.Helper()
	for range 500 {
		text, _, ended, err := s.Look()
		if err != nil {
			t.Fatal(err)
		}
		if ok(string(text), ended) {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	text, _, ended, _ := s.Look()
	t.Fatalf("never: %q, ended %v", text, ended)
}

func TestStream(t *testing.T) {
	r, w := io.Pipe()
	now := 100.0
	s := NewStream("standard input", r, func() float64 { return now })
	send := func(text string) {
		if _, err := w.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	send("21.5\n2")
	await(t, s, func(text string, _ bool) bool { return text == "21.5\n" })
	now = 107.25
	send("2.0\n23")
	await(t, s, func(text string, _ bool) bool { return text == "21.5\n22.0\n" })
	text, _, _, _ := s.Look()
	if got := string(s.Stamped(text, 1, ",", false)); got != "0.00,21.5\n0.00,22.0\n" { // both lines began at once
		t.Errorf("%q", got)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	await(t, s, func(text string, ended bool) bool { return ended && text == "21.5\n22.0\n23" })
	text, _, _, _ = s.Look()
	if got := string(s.Stamped(text, 1, ";", true)); got != "0,00;21.5\n0,00;22.0\n7,25;23\n" {
		t.Errorf("%q", got)
	}
	if got := string(s.Stamped([]byte("chip °C\n\n22\n"), 3, ",", false)); got != "time [s],chip °C\n\n7.25,22\n" {
		t.Errorf("%q", got)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(whole([]byte("no end")), nil) {
		t.Error("a line without end was handed out")
	}
}

func TestNoSuchPort(t *testing.T) {
	_, err := OpenSerial(filepath.Join(t.TempDir(), "ttyNone"), 9600, func() float64 { return 0 })
	if err == nil || !strings.Contains(err.Error(), "no such port") {
		t.Errorf("%v", err)
	}
}
