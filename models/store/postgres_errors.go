package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"

	"hotday/models"
)

// postgresReasons are the causes of failures by PostgreSQL's error codes, https://www.postgresql.org/docs/current/errcodes-appendix.html.
var postgresReasons = map[string]string{
	"53100": models.StorageFull, "25006": models.StorageReadOnly, "55P03": models.StorageLocked, "40P01": models.StorageBusy, "40001": models.StorageBusy,
	"58030": models.StorageFailing, "58P01": models.StorageFailing, "XX001": models.StorageFailing, "XX002": models.StorageFailing,
	"53300": models.StorageUnreachable, "57P01": models.StorageUnreachable, "57P02": models.StorageUnreachable, "57P03": models.StorageUnreachable,
	"25P03": models.StorageUnreachable, "57P05": models.StorageUnreachable,
}

func postgresReason(err error) string {
	var said *pgconn.PgError
	if errors.As(err, &said) {
		if strings.HasPrefix(said.Code, "08") {
			return models.StorageUnreachable
		}
		return postgresReasons[said.Code]
	}
	var connect *pgconn.ConnectError
	var network *net.OpError
	switch {
	case err == nil || errors.Is(err, context.Canceled):
		return ""
	case errors.As(err, &connect), errors.As(err, &network), errors.Is(err, driver.ErrBadConn), errors.Is(err, sql.ErrConnDone), errors.Is(err, io.EOF),
		errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, net.ErrClosed), pgconn.SafeToRetry(err) && !errors.Is(err, context.DeadlineExceeded):
		return models.StorageUnreachable
	}
	return ""
}

// postgresBadText reports whether a text has a NUL or is not UTF-8.
func postgresBadText(err error) bool {
	var said *pgconn.PgError
	return errors.As(err, &said) && (said.Code == "22021" || said.Code == "22P05")
}
