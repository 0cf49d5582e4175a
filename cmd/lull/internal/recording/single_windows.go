package recording

import "golang.org/x/sys/windows"

// SingleKeys has a console give each key as it is pressed and not show it. Ctrl-C still
// interrupts.
func SingleKeys(fd int) (restore func(), err error) {
	console := windows.Handle(fd)
	var was uint32
	if err := windows.GetConsoleMode(console, &was); err != nil {
		return nil, err
	}
	if err := windows.SetConsoleMode(console, was&^(windows.ENABLE_LINE_INPUT|windows.ENABLE_ECHO_INPUT)); err != nil {
		return nil, err
	}
	return func() { _ = windows.SetConsoleMode(console, was) }, nil // it may be gone
}
