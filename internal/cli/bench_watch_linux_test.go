package cli

import (
	"context"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// A meter on a serial line that sends numbers without a time: they get that of their coming.
func TestWatchSerialLine(t *testing.T) {
	meter, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	defer meter.Close()
	n, err := unix.IoctlGetInt(int(meter.Fd()), unix.TIOCGPTN)
	if err == nil {
		err = unix.IoctlSetPointerInt(int(meter.Fd()), unix.TIOCSPTLCK, 0)
	}
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	var out, errs safe
	done := make(chan int)
	go func() {
		done <- Main(ctx, []string{"bench", "watch", "--serial", fmt.Sprintf("/dev/pts/%d", n), "--baud", "115200", "--every", "20ms", "--json"}, Terminal{In: strings.NewReader(""), Out: &out, Err: &errs})
	}()
	time.Sleep(200 * time.Millisecond)
	for k := 0; k < 60; k++ {
		if _, err := fmt.Fprintf(meter, "%.1f °C\r\n", 23+8*(1-math.Exp(-float64(k)/30))); err != nil {
			t.Fatal(err)
		}
		time.Sleep(5 * time.Millisecond)
	}
	for range 500 {
		if strings.Contains(out.String(), "\n") {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	cancel()
	if code := <-done; code != exitStop {
		t.Fatalf("exit code %d: %s", code, errs.String())
	}
	all := watchedLines(t, out.String())
	end := all[len(all)-1]
	if !end.Final || !strings.Contains(strings.Join(end.Notes, ";"), "time of") && !strings.Contains(strings.Join(end.Notes, ";"), "that of its coming") {
		t.Errorf("%+v", end)
	}
	if end.NowS > 10 { // sixty readings in a third of a second
		t.Errorf("the last reading at %g s", end.NowS)
	}
}
