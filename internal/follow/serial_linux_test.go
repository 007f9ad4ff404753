package follow

import (
	"fmt"
	"os"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// terminal makes a pseudo-terminal: what is written to the first end comes in at the second, as from a serial line.
func terminal(t *testing.T) (logger *os.File, port string) {
	t.Helper()
	logger, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	t.Cleanup(func() { logger.Close() })
	n, err := unix.IoctlGetInt(int(logger.Fd()), unix.TIOCGPTN)
	if err == nil {
		err = unix.IoctlSetPointerInt(int(logger.Fd()), unix.TIOCSPTLCK, 0)
	}
	if err != nil {
		t.Fatal(err)
	}
	return logger, fmt.Sprintf("/dev/pts/%d", n)
}

// Bytes come in as they were sent, over several rates, also such as a terminal would turn into something else (CR, ^C, ^D).
func TestSerialLine(t *testing.T) {
	for _, baud := range []int{9600, 115200} {
		logger, port := terminal(t)
		s, err := OpenSerial(port, baud, func() float64 { return 0 })
		if err != nil {
			t.Fatal(err)
		}
		want := "time,chip\r\n0,21.5\r\n10,22.1\r\n\x03\x04x\r\n"
		for _, piece := range []string{want[:13], want[13:20], want[20:], "20,2"} {
			if _, err := logger.WriteString(piece); err != nil {
				t.Fatal(err)
			}
		}
		await(t, s, func(text string, _ bool) bool { return text == want })
		if err := s.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
		await(t, s, func(_ string, ended bool) bool { return ended })
	}
}

// A logger that is unplugged ends the stream with what came.
func TestUnplugged(t *testing.T) {
	logger, port := terminal(t)
	s, err := OpenSerial(port, 9600, func() float64 { return 0 })
	if err != nil {
		t.Fatal(err)
	}
	if _, err := logger.WriteString("1\n"); err != nil {
		t.Fatal(err)
	}
	await(t, s, func(text string, _ bool) bool { return text == "1\n" })
	logger.Close()
	for range 500 {
		if text, _, ended, _ := s.Look(); ended {
			if string(text) != "1\n" {
				t.Errorf("%q", text)
			}
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Error("it never ended")
}
