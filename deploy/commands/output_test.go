//go:build unix

package commands

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// kept makes a file with a text and a mode.
func kept(t *testing.T, path, text string, mode os.FileMode) {
	t.Helper()
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	require.NoError(t, os.Chmod(path, mode))
}

func wants(t *testing.T, path, text string, mode os.FileMode) {
	t.Helper()
	there, err := os.Lstat(path)
	require.NoError(t, err)
	assert.Equal(t, mode, there.Mode(), path)
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, text, string(got), path)
}

// onlyHas wants nothing besides the named files, such as one that was to take another's place.
func onlyHas(t *testing.T, dir string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	assert.ElementsMatch(t, names, got)
}

func TestOutputGoesToANewFileOrInTheWholePlaceOfAnother(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	fresh, old := filepath.Join(dir, "fresh.txt"), filepath.Join(dir, "old.txt")
	kept(t, old, "a longer text than the new one", 0o640)
	reader, err := os.Open(old)
	require.NoError(t, err)
	defer reader.Close()
	require.NoError(t, writeWhole(fresh, io.Discard, []byte("new")))
	require.NoError(t, writeWhole(old, io.Discard, []byte("new")))
	wants(t, fresh, "new", 0o644)
	wants(t, old, "new", 0o640)
	before, err := io.ReadAll(reader)
	require.NoError(t, err)
	assert.Equal(t, "a longer text than the new one", string(before), "who reads the old file reads it to its end")
	onlyHas(t, dir, "fresh.txt", "old.txt")
}

func TestOutputFollowsLinksAndKeepsThem(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		links  [][2]string // from, to
		target string
		exists bool
	}{
		"absolute":                     {[][2]string{{"link", "DIR/there.txt"}}, "there.txt", true},
		"relative":                     {[][2]string{{"link", "sub/there.txt"}}, "sub/there.txt", true},
		"up":                           {[][2]string{{"link", "sub/up"}, {"sub/up", "../there.txt"}}, "there.txt", true},
		"a chain":                      {[][2]string{{"link", "two"}, {"two", "sub/three"}, {"sub/three", "DIR/four"}, {"four", "there.txt"}}, "there.txt", true},
		"through a linked folder":      {[][2]string{{"folder", "sub/deep"}, {"link", "folder/../there.txt"}}, "sub/there.txt", true},
		"to nothing yet":               {[][2]string{{"link", "two"}, {"two", "sub/there.txt"}}, "sub/there.txt", false},
		"to nothing yet, by a folder":  {[][2]string{{"folder", "sub/deep"}, {"link", "folder/there.txt"}}, "sub/deep/there.txt", false},
		"to nothing yet, up a folder":  {[][2]string{{"folder", "sub/deep"}, {"link", "folder/../there.txt"}}, "sub/there.txt", false},
		"relative, in another's place": {[][2]string{{"link", "./sub/../sub/there.txt"}}, "sub/there.txt", true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir, err := filepath.EvalSymlinks(t.TempDir())
			require.NoError(t, err)
			require.NoError(t, os.MkdirAll(filepath.Join(dir, "sub", "deep"), 0o755))
			target, mode := filepath.Join(dir, tc.target), os.FileMode(0o644)
			if tc.exists {
				mode = 0o604
				kept(t, target, "old", mode)
			}
			for _, l := range tc.links {
				require.NoError(t, os.Symlink(string(bytes.ReplaceAll([]byte(l[1]), []byte("DIR"), []byte(dir))), filepath.Join(dir, l[0])))
			}
			require.NoError(t, writeWhole(filepath.Join(dir, "link"), io.Discard, []byte("new")))
			wants(t, target, "new", mode)
			for _, l := range tc.links {
				there, err := os.Lstat(filepath.Join(dir, l[0]))
				require.NoError(t, err)
				assert.NotZero(t, there.Mode()&os.ModeSymlink, "%s is still a link", l[0])
			}
		})
	}
}

func TestOutputThatCannotBeWrittenLeavesNothing(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "folder"), 0o755))
	require.NoError(t, os.Symlink("round", filepath.Join(dir, "round")))
	require.NoError(t, os.Symlink("missing/file", filepath.Join(dir, "nowhere")))
	for _, name := range []string{"folder", "folder/", "round", "nowhere", "missing/file", "missing/"} {
		err := writeWhole(dir+"/"+name, io.Discard, []byte("new"))
		assert.ErrorContains(t, err, "write "+dir+"/"+name, name)
	}
	onlyHas(t, dir, "folder", "round", "nowhere")
	onlyHas(t, filepath.Join(dir, "folder"))
}

func TestOutputGoesThroughAPipe(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	fifo, link := filepath.Join(dir, "fifo"), filepath.Join(dir, "link")
	require.NoError(t, syscall.Mkfifo(fifo, 0o600))
	require.NoError(t, os.Symlink("fifo", link))
	for _, path := range []string{fifo, link} {
		read := make(chan string)
		go func() {
			text, err := os.ReadFile(fifo)
			read <- string(text) + errorText(err)
		}()
		data := bytes.Repeat([]byte("more than a pipe holds "), 10_000)
		err := writeWhole(path, io.Discard, data)
		there, statErr := os.Lstat(fifo)
		require.NoError(t, statErr)
		if there.Mode()&os.ModeNamedPipe == 0 {
			t.Fatal("the pipe is gone") // its reader waits for ever
		}
		require.NoError(t, err)
		assert.Equal(t, string(data), <-read)
	}
	onlyHas(t, dir, "fifo", "link")
}

func TestOutputGoesBesideWhereTheCommandRuns(t *testing.T) { // not parallel: it works in a folder of its own
	dir := t.TempDir()
	t.Chdir(dir)
	require.NoError(t, os.Symlink("there.txt", "link"))
	require.NoError(t, writeWhole("plain.txt", io.Discard, []byte("new")))
	require.NoError(t, writeWhole("link", io.Discard, []byte("new")))
	wants(t, "plain.txt", "new", 0o644)
	wants(t, "there.txt", "new", 0o644)
	onlyHas(t, dir, "plain.txt", "link", "there.txt")
}

func TestOutputToAFileThatAProcessHasOpenIsAdded(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "errors.txt")
	f, err := os.Create(path)
	require.NoError(t, err)
	defer f.Close()
	open := fmt.Sprintf("/dev/fd/%d", f.Fd())
	if _, err := os.Stat(open); err != nil {
		skip(t, "this system does not show open files: %v", err)
	}
	_, err = f.WriteString("before\n")
	require.NoError(t, err)
	require.NoError(t, writeWhole(open, io.Discard, []byte("text\n")))
	wants(t, path, "before\ntext\n", 0o644)
	was, err := f.Stat()
	require.NoError(t, err)
	now, err := os.Stat(path)
	require.NoError(t, err)
	assert.True(t, os.SameFile(was, now), "who has it open goes on writing to it")
}

// skip gives up a test that the machine does not allow, loudly, and fails it where nothing may be skipped.
func skip(t *testing.T, format string, err error) {
	t.Helper()
	if os.Getenv("HOTDAY_REQUIRE_TOOLS") == "1" {
		t.Fatalf("NOT TESTED: "+format, err)
	}
	t.Skipf("NOT TESTED: "+format, err)
}

func errorText(err error) string {
	if err != nil {
		return err.Error()
	}
	return ""
}

func TestOutputGoesToADevice(t *testing.T) {
	t.Parallel()
	null := "/dev/null"
	if os.Geteuid() == 0 { // whoever may break /dev/null gets one to break
		null = filepath.Join(t.TempDir(), "null")
		if err := syscall.Mknod(null, syscall.S_IFCHR|0o666, 1<<8|3); err != nil {
			skip(t, "no device can be made here: %v", err)
		}
		if f, err := os.OpenFile(null, os.O_WRONLY, 0); err != nil {
			skip(t, "devices cannot be opened here: %v", err)
		} else {
			require.NoError(t, f.Close())
		}
	}
	link := filepath.Join(t.TempDir(), "link")
	require.NoError(t, os.Symlink(null, link))
	for _, path := range []string{null, link} {
		require.NoError(t, writeWhole(path, io.Discard, []byte("nobody reads this")))
	}
	there, err := os.Lstat(null)
	require.NoError(t, err)
	assert.NotZero(t, there.Mode()&os.ModeCharDevice)
	there, err = os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, there.Mode()&os.ModeSymlink)
}

func TestOutputToStandardOutputStaysInOrder(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "out.txt")
	out, err := os.Create(path)
	require.NoError(t, err)
	defer out.Close()
	_, err = out.WriteString("before\n")
	require.NoError(t, err)
	for _, name := range []string{"", "-", path} { // the last as /dev/stdout is: another way to what is open
		require.NoError(t, writeWhole(name, out, []byte("text\n")))
	}
	_, err = out.WriteString("after\n")
	require.NoError(t, err)
	wants(t, path, "before\ntext\ntext\ntext\nafter\n", 0o644)
}
