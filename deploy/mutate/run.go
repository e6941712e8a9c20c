package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// pkg is what go list tells of a package.
type pkg struct {
	ImportPath, Dir string
	GoFiles         []string
}

// outcome is what became of a mutant.
type outcome int

const (
	killed   outcome = iota // a test failed
	timedOut                // the tests did not end; nobody would overlook that
	survived                // the tests passed
	untested                // no test runs the changed text
	notGo                   // it does not compile
)

// score counts mutants by what became of them.
type score [notGo + 1]int

func (s score) String() string {
	noticed := s[killed] + s[timedOut]
	all := noticed + s[survived] + s[untested]
	return fmt.Sprintf("%d mutants: %d killed (%d by running out of time), %d survived (%d of them where no test goes); %d more do not compile. Score %.1f %%",
		all, noticed, s[timedOut], s[survived]+s[untested], s[untested], s[notGo], 100*float64(noticed)/float64(max(all, 1)))
}

// mutate tries the mutants of packages one after another. It prints survivors as they are found, then the score.
func mutate(ctx context.Context, o options, w io.Writer) (err error) {
	dir, err := os.MkdirTemp("", "mutate-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	pkgs, err := list(ctx, o.packages)
	if err != nil {
		return err
	}
	all, of, err := drawn(pkgs, o)
	if err != nil {
		return err
	}
	var total score
	for _, p := range pkgs {
		mutants := all[p.ImportPath]
		if len(mutants) == 0 {
			continue
		}
		s, err := mutatePackage(ctx, o, p, mutants, dir, w)
		for i, n := range s {
			total[i] += n
		}
		if err != nil {
			return err
		}
		if len(pkgs) > 1 {
			fmt.Fprintf(w, "%s: %s\n", p.ImportPath, s)
		}
	}
	fmt.Fprintf(w, "%s (of %d possible, seed %d)\n", total, of, o.seed)
	return nil
}

func list(ctx context.Context, patterns []string) (pkgs []pkg, err error) {
	out, err := output(exec.CommandContext(ctx, "go", append([]string{"list", "-json=ImportPath,Dir,GoFiles"}, patterns...)...))
	if err != nil {
		return nil, err
	}
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var p pkg
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return pkgs, nil
		} else if err != nil {
			return nil, err
		}
		pkgs = append(pkgs, p)
	}
}

// drawn returns the mutants to try by package, and how many there are in all.
func drawn(pkgs []pkg, o options) (map[string][]mutant, int, error) {
	type one struct {
		path string
		mutant
	}
	var all []one
	for _, p := range pkgs {
		for _, name := range p.GoFiles {
			file := filepath.Join(p.Dir, name)
			src, err := os.ReadFile(file)
			if err != nil {
				return nil, 0, err
			}
			found, err := mutantsOf(file, src)
			if err != nil {
				return nil, 0, err
			}
			for _, m := range found {
				all = append(all, one{p.ImportPath, m})
			}
		}
	}
	of := len(all)
	if o.sample > 0 && o.sample < of {
		r := rand.New(rand.NewPCG(o.seed, 0))
		r.Shuffle(of, func(i, j int) { all[i], all[j] = all[j], all[i] })
		all = all[:o.sample]
		slices.SortFunc(all, func(a, b one) int {
			return cmp.Or(cmp.Compare(a.file, b.file), cmp.Compare(a.start, b.start), cmp.Compare(a.with, b.with))
		})
	}
	out := map[string][]mutant{}
	for _, x := range all {
		out[x.path] = append(out[x.path], x.mutant)
	}
	return out, of, nil
}

func mutatePackage(ctx context.Context, o options, p pkg, mutants []mutant, dir string, w io.Writer) (s score, err error) {
	r := runner{options: o, pkg: p, dir: dir}
	if len(o.tests) == 0 {
		r.tested = []pkg{p}
	} else if r.tested, err = list(ctx, o.tests); err != nil {
		return s, err
	}
	covered, err := r.unchanged(ctx)
	if err != nil {
		return s, err
	}
	for i, m := range mutants {
		got := untested
		if covered.has(m) {
			if got, err = r.try(ctx, m); err != nil {
				return s, err
			}
		}
		s[got]++
		if got == survived || got == untested {
			note := ""
			if got == untested {
				note = " (no test goes there)"
			}
			fmt.Fprintf(w, "%s:%d:%d: %s%s\n", shown(m.file), m.line, m.col, m.what, note)
		}
		if n := i + 1; n%25 == 0 {
			fmt.Fprintf(os.Stderr, "%s: %d of %d\n", p.ImportPath, n, len(mutants))
		}
	}
	return s, nil
}

func shown(file string) string {
	if wd, err := os.Getwd(); err == nil {
		if rel, err := filepath.Rel(wd, file); err == nil {
			return rel
		}
	}
	return file
}

// runner runs the tests of a package's mutants.
type runner struct {
	options
	pkg     pkg
	tested  []pkg
	dir     string
	allowed time.Duration
}

var errNotGo = errors.New("does not compile")

// unchanged runs the tests on the package as it is: they must pass. It tells what they cover and sets the time for mutants.
func (r *runner) unchanged(ctx context.Context) (coverage, error) {
	r.allowed = time.Hour
	var profiles strings.Builder
	var took time.Duration
	for _, t := range r.tested {
		profile := filepath.Join(r.dir, "profile")
		if err := r.build(ctx, t, "-cover", "-covermode=set", "-coverpkg="+r.pkg.ImportPath); err != nil {
			return nil, err
		}
		begun := time.Now()
		if err := r.test(ctx, t, "-test.coverprofile="+profile); err != nil {
			return nil, fmt.Errorf("the tests of %s fail without any change: %w", t.ImportPath, err)
		}
		took += time.Since(begun)
		b, err := os.ReadFile(profile)
		if err != nil {
			return nil, err
		}
		profiles.Write(b)
	}
	r.allowed = r.timeout
	if r.allowed == 0 {
		r.allowed = 10*time.Second + 4*took
	}
	return readCoverage(profiles.String())
}

// try runs the tests on one mutant.
func (r *runner) try(ctx context.Context, m mutant) (outcome, error) {
	src, err := os.ReadFile(m.file)
	if err != nil {
		return 0, err
	}
	changed, overlay := filepath.Join(r.dir, "changed.go"), filepath.Join(r.dir, "overlay.json")
	doc, err := json.Marshal(map[string]map[string]string{"Replace": {m.file: changed}})
	if err == nil {
		err = errors.Join(os.WriteFile(changed, m.apply(src), 0o600), os.WriteFile(overlay, doc, 0o600))
	}
	if err != nil {
		return 0, err
	}
	for _, t := range r.tested {
		switch err := r.build(ctx, t, "-overlay="+overlay); {
		case ctx.Err() != nil:
			return 0, ctx.Err()
		case errors.Is(err, errNotGo):
			return notGo, nil
		case err != nil:
			return 0, err
		}
		limited, cancel := context.WithTimeout(ctx, r.allowed)
		passed := r.test(limited, t, "-test.failfast") == nil
		late := errors.Is(limited.Err(), context.DeadlineExceeded)
		cancel()
		switch {
		case ctx.Err() != nil:
			return 0, ctx.Err()
		case late:
			return timedOut, nil
		case !passed:
			return killed, nil
		}
	}
	return survived, nil
}

func (r *runner) binary() string { return filepath.Join(r.dir, "tests") }

func (r *runner) build(ctx context.Context, t pkg, flags ...string) error {
	args := append([]string{"test", "-c", "-vet=off", "-o", r.binary()}, flags...)
	_, err := output(exec.CommandContext(ctx, "go", append(args, t.ImportPath)...))
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return fmt.Errorf("%s %w: %w", t.ImportPath, errNotGo, err)
	}
	return err
}

// test runs the tests in the folder that they expect, with bounded memory: a mutant may ask for all there is.
func (r *runner) test(ctx context.Context, t pkg, flags ...string) error {
	limit := "unlimited"
	if r.memory > 0 {
		limit = fmt.Sprint(r.memory << 20)
	}
	args := append([]string{"-c", `ulimit -v "$0" && exec "$@"`, limit, r.binary()}, flags...)
	if r.short {
		args = append(args, "-test.short")
	}
	if r.run != "" {
		args = append(args, "-test.run="+r.run)
	}
	c := exec.CommandContext(ctx, "sh", args...)
	c.Dir = t.Dir
	c.WaitDelay = 5 * time.Second
	_, err := output(c)
	return err
}

// output runs a command and puts the end of what it printed into its error.
func output(c *exec.Cmd) ([]byte, error) {
	var out, both bytes.Buffer
	c.Stdout, c.Stderr = io.MultiWriter(&out, &both), &both
	if err := c.Run(); err != nil {
		b := both.Bytes()
		return nil, fmt.Errorf("%w: %s", err, b[max(0, len(b)-2000):])
	}
	return out.Bytes(), nil
}
