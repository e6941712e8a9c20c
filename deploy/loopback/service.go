// Package loopback runs the built program on this machine's loopback address, with an empty database in a temporary folder, for the
// programs that measure it.
package loopback

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
)

// Service is a running service.
type Service struct {
	Address string // its URL

	binary, dir string
	process     *exec.Cmd
}

// Start starts the program's service.
func Start(binary string) (s *Service, err error) {
	s = &Service{binary: binary}
	if s.dir, err = os.MkdirTemp("", "hotday-measured-"); err != nil {
		return nil, err
	}
	if err := s.serve(); err != nil {
		return nil, errors.Join(err, s.Stop())
	}
	return s, nil
}

func (s *Service) db() string { return filepath.Join(s.dir, "hotday.db") }

var listening = regexp.MustCompile(`listening on (http://127\.0\.0\.1:\d+)`)

func (s *Service) serve() error {
	cmd := exec.Command(s.binary, "serve", "--db", s.db(), "--listen", "127.0.0.1:0")
	log, err := cmd.StderrPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	s.process = cmd
	for lines := bufio.NewScanner(log); lines.Scan(); {
		if m := listening.FindStringSubmatch(lines.Text()); m != nil {
			s.Address = m[1]
			go func() { _, _ = io.Copy(io.Discard, log) }() // a full pipe would stop the service
			return nil
		}
	}
	return errors.New("the service did not start")
}

// Key makes an access key for all sites.
func (s *Service) Key(ctx context.Context, scope string) (string, error) {
	out, err := exec.CommandContext(ctx, s.binary, "token", "new", "--db", s.db(), "--scope", scope, "--name", scope).Output()
	if err != nil {
		return "", fmt.Errorf("make an access key: %w", err)
	}
	return strings.TrimSpace(string(out)), nil
}

// Stop ends the service as an operator does and removes its folder.
func (s *Service) Stop() error {
	var ended error
	if s.process != nil {
		if ended = s.process.Process.Signal(syscall.SIGTERM); ended == nil {
			ended = s.process.Wait()
		}
	}
	return errors.Join(ended, os.RemoveAll(s.dir))
}
