//go:build !unix

package pgtest

import "syscall"

// ordinaryUser is for systems with a root.
func ordinaryUser(string) (*syscall.SysProcAttr, error) { return nil, nil }

func (s *server) own(string) error { return nil }
