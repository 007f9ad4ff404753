package follow

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"go.bug.st/serial"
)

// OpenSerial follows a serial line, 8 bits, no parity, one stop bit. An error names the ports there are.
func OpenSerial(port string, baud int, clock func() float64) (*Stream, error) {
	p, err := serial.Open(port, &serial.Mode{BaudRate: baud})
	if err != nil {
		return nil, serialError(port, baud, err)
	}
	return NewStream(fmt.Sprintf("serial line %s", port), p, clock), nil
}

// serialError says what is wrong with a port and what to do.
func serialError(port string, baud int, err error) error {
	what := err.Error()
	if errors.Is(err, fs.ErrNotExist) {
		what = "there is no such port"
	}
	var pe *serial.PortError
	if errors.As(err, &pe) {
		switch pe.Code() {
		case serial.PortNotFound:
			what = "there is no such port"
		case serial.PortBusy:
			what = "another program has it open: close that one first"
		case serial.PermissionDenied:
			what = "you may not open it: on Linux add yourself to its group, often dialout, and log in again"
		case serial.InvalidSpeed:
			what = fmt.Sprintf("it does not do %d baud: see the logger's manual", baud)
		case serial.InvalidSerialPort:
			what = "it is not a serial port"
		}
	}
	there := "no serial port is there at present"
	if ports, err := serial.GetPortsList(); err == nil && len(ports) > 0 {
		there = "there are " + strings.Join(ports, ", ")
	}
	return fmt.Errorf("serial port %s: %s (%s)", port, what, there)
}
