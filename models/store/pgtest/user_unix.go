//go:build unix

package pgtest

import (
	"os"
	"os/user"
	"strconv"
	"syscall"
)

// ordinaryUser returns how to run a program as a user without rights, to whom a folder is given, if this process is root's; nil otherwise.
func ordinaryUser(dir string) (*syscall.SysProcAttr, error) {
	if os.Getuid() != 0 {
		return nil, nil
	}
	u, err := user.Lookup("nobody")
	if err != nil {
		return nil, err
	}
	uid, err := strconv.ParseUint(u.Uid, 10, 32)
	if err != nil {
		return nil, err
	}
	gid, err := strconv.ParseUint(u.Gid, 10, 32)
	if err != nil {
		return nil, err
	}
	return &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}, os.Chown(dir, int(uid), int(gid))
}

// own gives a file to the server's user.
func (s *server) own(path string) error {
	if s.user == nil {
		return nil
	}
	return os.Chown(path, int(s.user.Credential.Uid), int(s.user.Credential.Gid))
}
