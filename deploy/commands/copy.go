package commands

import (
	"context"
	"fmt"

	"hotday/models/store"
)

// Copy copies an SQLite file into a PostgreSQL database.
type Copy struct {
	From string `required:"" complete:"file" placeholder:"FILE" help:"SQLite database file; no service may be running on it. It stays as it is."`
	To   string `required:"" placeholder:"DSN" help:"Empty PostgreSQL database, as postgres://user@host/database."`
}

func (Copy) Help() string {
	return `Copies everything, with the jobs that wait, in one transaction: if it fails, the database is as empty as before. Each table's rows and
digest are read back and compared with the file before they are kept, and printed. The key file of the secrets is not in the database: start
the service with --secret-file and the file that belongs to FILE, FILE.key unless you chose another. Example:

    hotday copy --from hotday.db --to "postgres://hotday@db.example.com/hotday?sslmode=verify-full"`
}

func (c *Copy) Run(ctx context.Context, s Streams) error {
	tables, err := store.Copy(ctx, c.From, c.To)
	rows := int64(0)
	for _, t := range tables {
		fmt.Fprintf(s.Out, "%-20s %10d rows  %s\n", t.Name, t.Rows, t.Digest)
		rows += t.Rows
	}
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.Out, "%s: %d rows in %d tables copied and compared\n", store.Shown(c.To), rows, len(tables))
	return err
}
