package commands

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"

	"hotday/models"
	"hotday/models/store"
)

// Person looks after people's accounts where the service runs.
type Person struct {
	Reset personReset `cmd:"" help:"Print a link with which a person chooses a new password."`
}

func (personReset) Help() string {
	return `For somebody who has forgotten the password, such as the only manager. It ends the person's sessions and the old
password, and is entered in the activity log. The link works once, for three days. The service may be running. Example:

    hotday person reset ada@example.com --db hotday.db --public-url https://hotday.example.com`
}

type personReset struct {
	Name      string `arg:"" help:"The name that the person signs in with."`
	DB        string `name:"db" required:"" complete:"file" placeholder:"DSN" help:"Database file, or postgres://user@host/database."`
	PublicURL string `name:"public-url" default:"http://127.0.0.1:8080" placeholder:"URL" help:"Address by which the person reaches the service (${default})."`
}

func (c *personReset) Run(ctx context.Context, s Streams) (err error) {
	base, err := url.Parse(c.PublicURL)
	if err != nil || base.Host == "" {
		return fmt.Errorf("--public-url: %q is not an address such as https://hotday.example.com", c.PublicURL)
	}
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	p, err := personNamed(ctx, st, c.Name)
	if err != nil {
		return err
	}
	now, code := time.Now(), ""
	err = st.Within(ctx, func(tx models.Store) error {
		if err := tx.SetPassword(ctx, p.ID, ""); err != nil { // ends the sessions too
			return err
		}
		if code, err = tx.NewLink(ctx, p.ID, now); err != nil {
			return err
		}
		return tx.AddAudit(ctx, models.AuditEntry{At: now, By: "hotday person reset", Site: p.Site, Action: models.AuditResetPerson, Subject: p.Name})
	})
	if err != nil {
		return err
	}
	link := base.JoinPath("welcome")
	link.RawQuery = url.Values{"code": {code}}.Encode()
	_, err = fmt.Fprintf(s.Out, "%s chooses a new password here, once, until %s:\n%s\n", p.Name, now.Add(models.LinkTime).Format("2006-01-02 15:04"), link)
	return err
}

// personNamed finds a person by the sign-in name; the error for an unknown one lists those there are.
func personNamed(ctx context.Context, st *store.Store, typed string) (models.Person, error) {
	name, _ := models.SignInName(typed)
	people, err := st.People(ctx)
	if err != nil {
		return models.Person{}, err
	}
	var names []string
	for _, p := range people {
		if p.SignIn == name {
			return p, nil
		}
		names = append(names, p.SignIn)
	}
	if len(names) == 0 {
		return models.Person{}, fmt.Errorf("nobody signs in with a name here; create an access key with: hotday token new")
	}
	return models.Person{}, fmt.Errorf("nobody signs in as %q; there are: %s", typed, strings.Join(names, ", "))
}
