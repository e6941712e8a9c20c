package commands

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// newFile is the mode of a file that was not there before.
const newFile = 0o644

// writeWhole writes data to a file, or to stdout where file is empty or "-". A regular file is written whole or not at all: another
// takes its place, with the same permissions, so that nobody reads half of it. A symbolic link stays and the file that it points to
// is written. Pipes, devices and sockets are written straight through.
func writeWhole(file string, stdout io.Writer, data []byte) error {
	if file == "" || file == "-" {
		_, err := stdout.Write(data)
		return err
	}
	if err := writeFile(file, stdout, data); err != nil {
		return fmt.Errorf("write %s: %w", file, err)
	}
	return nil
}

func writeFile(file string, stdout io.Writer, data []byte) error {
	there, err := os.Stat(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		target, _, err := followed(file)
		if err != nil {
			return err
		}
		return replace(target, newFile, data)
	case err != nil:
		return err
	case isSame(there, stdout): // /dev/stdout and its like, even where the shell has sent it to a regular file
		_, err := stdout.Write(data)
		return err
	case !there.Mode().IsRegular():
		return writeThrough(file, 0, data)
	}
	target, open, err := followed(file)
	if err != nil {
		return err
	}
	if open {
		return writeThrough(file, os.O_APPEND, data)
	}
	return replace(target, there.Mode().Perm(), data)
}

func isSame(there fs.FileInfo, stdout io.Writer) bool {
	f, ok := stdout.(*os.File)
	if !ok {
		return false
	}
	out, err := f.Stat()
	return err == nil && os.SameFile(there, out)
}

// mostLinks is how many links in a row are followed, as by the kernel.
const mostLinks = 40

// followed follows symbolic links to the file that they point to in the end, whether it is there or not. open says that one of the
// links is a file that a process has open (/dev/fd/2), which goes on being written to by whoever has it.
func followed(file string) (target string, open bool, err error) {
	for range mostLinks {
		there, err := os.Lstat(file)
		if errors.Is(err, fs.ErrNotExist) || (err == nil && there.Mode()&fs.ModeSymlink == 0) {
			return file, false, nil
		}
		if err != nil {
			return "", false, err
		}
		dir, err := filepath.EvalSymlinks(filepath.Dir(file))
		if err != nil {
			return "", false, err
		}
		if strings.HasPrefix(dir, "/proc/") {
			return file, true, nil
		}
		to, err := os.Readlink(file)
		if err != nil {
			return "", false, err
		}
		if !filepath.IsAbs(to) {
			to = dir + string(filepath.Separator) + to // not cleaned: ".." after a link to a folder is that folder's parent
		}
		file = to
	}
	return "", false, errors.New("too many links")
}

func writeThrough(file string, flag int, data []byte) error {
	f, err := os.OpenFile(file, os.O_WRONLY|flag, 0)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Close())
}

// replace puts a new file in the place of target.
func replace(target string, mode fs.FileMode, data []byte) (err error) {
	if strings.HasSuffix(target, string(filepath.Separator)) {
		return errors.New("this names a folder")
	}
	dir, _ := filepath.Split(target)
	tmp, err := os.CreateTemp(cmp.Or(dir, "."), ".hotday-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(tmp.Name()))
		}
	}()
	_, err = tmp.Write(data)
	if err = errors.Join(err, tmp.Chmod(mode), tmp.Sync(), tmp.Close()); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), target)
}
