package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// checkPostgres examines a PostgreSQL database as Check does a file. Its integrity is the server's business (pg_amcheck, checksums).
func checkPostgres(ctx context.Context, dsn, keyFile string) (list []Finding, err error) {
	p, err := openPostgres(dsn)
	if err != nil {
		return nil, fmt.Errorf("check %s: %w", Shown(dsn), err)
	}
	defer func() { err = errors.Join(err, p.close()) }()
	server := Finding{Subject: "server", Level: FindingOK}
	var durable, fsync string
	var most int
	if err := p.read.QueryRowContext(ctx, "SELECT 'PostgreSQL ' || current_setting('server_version'), current_setting('synchronous_commit'), current_setting('fsync'), current_setting('max_connections')").
		Scan(&server.Text, &durable, &fsync, &most); err != nil {
		return nil, fmt.Errorf("check %s: %w", Shown(dsn), err)
	}
	switch {
	case fsync == "off":
		server.Level, server.Text = FindingFault, server.Text+"; fsync is off, so a power cut may destroy the database"
	case most < postgresConnections:
		server.Level, server.Text = FindingWarning, server.Text+fmt.Sprintf("; max_connections is %d, and each replica uses up to %d", most, postgresConnections)
	}
	list = append(list, server, checkSchema(ctx, p.read, postgresDialect()), checkSecrets(ctx, p.read, &shared{name: Shown(dsn), keyFile: keyFile}))
	size := Finding{Subject: "size", Level: FindingOK}
	var bytes int64
	if err := p.read.QueryRowContext(ctx, "SELECT pg_database_size(current_database())").Scan(&bytes); err != nil {
		size.Level, size.Text = FindingFault, err.Error()
	} else {
		size.Text = megabytes(bytes)
	}
	return append(list, size), nil
}

func (p pools) close() (err error) {
	for _, db := range []*sql.DB{p.jobs, p.read, p.write} {
		if db != nil {
			err = errors.Join(err, db.Close())
		}
	}
	return err
}
