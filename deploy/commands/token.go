package commands

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"hotday/models"
	"hotday/models/store"
)

// Token makes, lists and revokes access keys.
type Token struct {
	New    tokenNew    `cmd:"" help:"Make an access key and print it, alone. It is shown this once."`
	List   tokenList   `cmd:"" help:"List the access keys, without their secrets."`
	Revoke tokenRevoke `cmd:"" help:"Revoke an access key."`
}

func (tokenNew) Help() string {
	return `Examples:

    hotday token new --db hotday.db --scope manage --name Ada
    hotday token new --db hotday.db --scope sales --site corner --name till`
}

func (tokenList) Help() string { return "Example:\n\n    hotday token list --db hotday.db" }

func (tokenRevoke) Help() string {
	return "Example:\n\n    hotday token revoke 01J8ZQ6V0000000000000000AA --db hotday.db"
}

type tokenNew struct {
	DB    string   `name:"db" required:"" complete:"file" placeholder:"DSN" help:"The database."`
	Scope []string `required:"" enum:"manage,kitchen,sales,read" help:"What it may do: manage (everything), kitchen (marks, counts, read), sales (counts, weather, off-sale), read; several with commas."`
	Site  string   `placeholder:"CODE" help:"Only this site; left out: the whole organisation."`
	Name  string   `placeholder:"TEXT" help:"What it is for."`
}

func (c *tokenNew) Run(ctx context.Context, s Streams) (err error) {
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	_, secret, err := st.AddToken(ctx, models.Token{Name: c.Name, Scopes: c.Scope, Site: c.Site}, time.Now())
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(s.Out, secret)
	return err
}

type tokenList struct {
	DB string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"The database."`
}

func (c *tokenList) Run(ctx context.Context, s Streams) (err error) {
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	tokens, err := st.Tokens(ctx)
	if err != nil {
		return err
	}
	for _, t := range tokens {
		state := "in use"
		if t.RevokedAt != nil {
			state = "revoked " + t.RevokedAt.Local().Format("2006-01-02 15:04")
		}
		fmt.Fprintf(s.Out, "%s  %-24s  %-24s  %-16s  %s\n", t.ID, strings.Join(t.Scopes, ","), cmp.Or(t.Site, "(organisation)"), state, t.Name)
	}
	return nil
}

type tokenRevoke struct {
	ID string `arg:"" help:"The access key's id, as the list shows it."`
	DB string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"The database."`
}

func (c *tokenRevoke) Run(ctx context.Context) (err error) {
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	return st.RevokeToken(ctx, c.ID, time.Now())
}
