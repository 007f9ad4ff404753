package benchlog

import "fmt"

// Finding is something a reader of the log should know: what was put right, left out, or looks wrong.
type Finding struct {
	Line  int // first line, from 1; 0 for the whole file
	Times int
	What  string
}

func (f Finding) String() string {
	s := f.What
	if f.Line > 0 {
		s = fmt.Sprintf("line %d: %s", f.Line, s)
	}
	if f.Times > 1 {
		s += fmt.Sprintf(" (%d times)", f.Times)
	}
	return s
}

// findings gathers them, the same kind once, in order of first appearance.
type findings struct {
	list []Finding
	at   map[string]int
}

func (f *findings) add(kind string, line int, what string) {
	if i, ok := f.at[kind]; ok {
		f.list[i].Times++
		return
	}
	if f.at == nil {
		f.at = map[string]int{}
	}
	f.at[kind] = len(f.list)
	f.list = append(f.list, Finding{line, 1, what})
}

// forget takes back what has turned out to be of no matter.
func (f *findings) forget(kind string) {
	i, ok := f.at[kind]
	if !ok {
		return
	}
	f.list = append(f.list[:i], f.list[i+1:]...)
	delete(f.at, kind)
	for k, at := range f.at {
		if at > i {
			f.at[k] = at - 1
		}
	}
}
