package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

const (
	backupSuffix = ".tar.zst"
	backupStamp  = "20060102T150405Z"
)

// Rotation says which of a directory's backups are kept: the newest of each of the last Daily days and of the last Weekly weeks that have
// one, in UTC. The newest is always kept.
type Rotation struct {
	Daily, Weekly int
}

// BackupTo backs the database up into a directory, under its own name with the time, and removes the backups that the rotation no longer
// keeps. Other files there are left alone. It returns the new file.
func (s *Store) BackupTo(ctx context.Context, dir, program string, r Rotation) (string, error) {
	at := s.now().UTC()
	base := backupBase(s.dsn)
	file := filepath.Join(dir, base+"-"+at.Format(backupStamp)+backupSuffix)
	if _, err := Backup(ctx, s.dsn, file, program, at); err != nil {
		return "", err
	}
	there, err := os.ReadDir(dir)
	if err != nil {
		return "", fmt.Errorf("rotate the backups: %w", err)
	}
	var names []string
	for _, f := range there {
		names = append(names, f.Name())
	}
	var failed error
	for _, name := range r.outdated(base, names) {
		failed = errors.Join(failed, os.Remove(filepath.Join(dir, name)))
	}
	if failed != nil {
		return "", fmt.Errorf("rotate the backups: %w", failed)
	}
	return file, nil
}

// backupBase is the beginning of the names of a database's backups.
func backupBase(dsn string) string {
	name := filepath.Base(dsn)
	return strings.TrimSuffix(name, filepath.Ext(name))
}

// outdated returns the backups of a database among the names that the rotation does not keep.
func (r Rotation) outdated(base string, names []string) (remove []string) {
	type backup struct {
		name string
		at   time.Time
	}
	var all []backup
	for _, name := range names {
		stamp, ours := strings.CutPrefix(name, base+"-")
		stamp, whole := strings.CutSuffix(stamp, backupSuffix)
		at, err := time.Parse(backupStamp, stamp)
		if ours && whole && err == nil {
			all = append(all, backup{name, at})
		}
	}
	slices.SortFunc(all, func(a, b backup) int { return b.at.Compare(a.at) })
	days, weeks := map[string]bool{}, map[string]bool{}
	for i, b := range all {
		year, week := b.at.ISOWeek()
		keepsDay := keepFirst(days, b.at.Format(time.DateOnly), r.Daily)
		keepsWeek := keepFirst(weeks, fmt.Sprint(year, " ", week), r.Weekly)
		if i > 0 && !keepsDay && !keepsWeek {
			remove = append(remove, b.name)
		}
	}
	return remove
}

// keepFirst reports whether span is new and among the first most, and records it.
func keepFirst(seen map[string]bool, span string, most int) bool {
	if seen[span] || len(seen) >= most {
		return false
	}
	seen[span] = true
	return true
}
