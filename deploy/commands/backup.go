package commands

import (
	"context"
	"errors"
	"fmt"
	"time"

	"hotday/models/store"
)

// Backup writes a database to a file while the service runs.
type Backup struct {
	File string `arg:"" complete:"file" help:"File to write, by custom *.tar.zst. A backup of that name is replaced once the new one is whole."`
	DB   string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"Database file; the service may be running."`
}

func (Backup) Help() string {
	return `The file holds the database as it was when the backup began, and a manifest with its version; it was checked and read back. It
does not hold the key file of the secrets: keep a copy of that somewhere else. While the backup runs, it needs room beside FILE
for a copy of the database. Examples:

    hotday backup --db hotday.db hotday.tar.zst
    hotday restore --db restored.db hotday.tar.zst`
}

func (c *Backup) Run(ctx context.Context, s Streams) error {
	m, err := store.Backup(ctx, c.DB, c.File, BuiltFrom(), time.Now())
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.Out, "%s: schema version %d, %.1f MB of data, checked\n", c.File, m.Schema, float64(m.Bytes)/1e6)
	return err
}

// Restore makes a new database from a backup.
type Restore struct {
	File string `arg:"" complete:"file" help:"Backup to restore."`
	DB   string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"Database file to create; it must not exist."`
}

func (Restore) Help() string {
	return `Nothing is overwritten: restore under a new name, stop the service, and start it on the new file. Backups of earlier versions of
hotday are brought up to date; those of newer versions are refused. Example:

    hotday restore --db restored.db hotday.tar.zst`
}

func (c *Restore) Run(ctx context.Context, s Streams) error {
	m, err := store.Restore(ctx, c.DB, c.File)
	if err != nil {
		return err
	}
	fmt.Fprintf(s.Out, "%s: as of %s, checked\n", c.DB, m.TakenAt.Local().Format("2006-01-02 15:04:05"))
	if m.Rows["webhooks"] > 0 {
		fmt.Fprintf(s.Out, "The secrets of webhooks and notifications need the key file that belonged to the database: copy it to %s.key\n", c.DB)
	}
	return nil
}

// Check examines a database.
type Check struct {
	DB         string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"Database file, or postgres://user@host/database; the service may be running."`
	SecretFile string `complete:"file" placeholder:"FILE" help:"Key file of the secrets. Default: the database file's name with .key."`
}

func (Check) Help() string {
	return `Checks integrity, foreign keys, schema version, file modes, keys and free disk. Nothing is changed. The exit code is 1 if the database
is damaged or of a newer version, or a key is missing. Of a PostgreSQL database it checks version, settings, schema, keys and size. Examples:

    hotday check --db hotday.db
    hotday check --db postgres://hotday@db.example.com/hotday --secret-file /etc/hotday/secrets.key`
}

func (c *Check) Run(ctx context.Context, s Streams) error {
	findings, err := store.Check(ctx, c.DB, c.SecretFile)
	if err != nil {
		return err
	}
	bad := false
	for _, f := range findings {
		fmt.Fprintf(s.Out, "%-8s %-10s %s\n", f.Level, f.Subject, f.Text)
		bad = bad || f.Level == store.FindingFault
	}
	if bad {
		return errors.New("the database has faults: see above")
	}
	return nil
}
