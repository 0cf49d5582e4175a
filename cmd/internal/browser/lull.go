package browser

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// Build builds lull into a folder and returns its path. The working directory must be in
// lull's module.
func Build(folder string) (string, error) {
	path := filepath.Join(folder, "lull")
	if out, err := exec.Command("go", "build", "-o", path, "lull/cmd/lull").CombinedOutput(); err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, out)
	}
	return path, nil
}

// Served is a running lull serve.
type Served struct {
	URL  string // of the page
	cmd  *exec.Cmd
	said bytes.Buffer // on standard error
}

// Serve starts lull serve with temporary files in a folder, and waits for its address.
func Serve(lull, temporary string, flags ...string) (*Served, error) {
	s := &Served{cmd: exec.Command(lull, append([]string{"serve", "--quiet"}, flags...)...)}
	s.cmd.Env = append(os.Environ(), "TMPDIR="+temporary)
	s.cmd.Stderr = &s.said
	out, err := s.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := s.cmd.Start(); err != nil {
		return nil, err
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		_ = s.cmd.Process.Kill()
		_ = s.cmd.Wait()
		return nil, fmt.Errorf("lull serve gave no address: %w\n%s", err, s.said.String())
	}
	s.URL = strings.TrimSpace(line)
	return s, nil
}

// Stop ends lull as Ctrl-C does, and returns what it said on standard error.
func (s *Served) Stop() (said string, err error) {
	if err := s.cmd.Process.Signal(os.Interrupt); err != nil {
		return s.said.String(), err
	}
	late := time.AfterFunc(Patience, func() { _ = s.cmd.Process.Kill() })
	defer late.Stop()
	err = s.cmd.Wait()
	return s.said.String(), err
}
