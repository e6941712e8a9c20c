package mail

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"net/mail"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"

	"hotday/models"
)

// Letter is a message to one person: plain text, the same as HTML, and files.
type Letter struct {
	ID      string    // the same on every attempt; becomes the Message-ID
	Date    time.Time // likewise
	To      string
	Subject string
	Text    string
	HTML    string
	Files   []File
	StopURL string // ends messages of this kind; empty: of a confirmation
}

// File is an attachment.
type File struct {
	Name, Type string
	Data       []byte
}

// RefusedError is a mail server's permanent refusal of a message, for which there is no point in trying again.
type RefusedError struct{ err error }

func (e *RefusedError) Error() string { return e.err.Error() }
func (e *RefusedError) Unwrap() error { return e.err }

// Send hands a letter to the mail server. An error means that the server has not taken it, or that this is not known.
func (s *Server) Send(ctx context.Context, l Letter) error {
	ctx, cancel := context.WithTimeout(ctx, sendTimeout)
	defer cancel()
	msg, err := s.message(l)
	if err != nil {
		return &RefusedError{err}
	}
	var conn connection
	options := []gomail.Option{gomail.WithPort(s.port), gomail.WithTimeout(sendTimeout), gomail.WithTLSConfig(s.tlsConfig()), gomail.WithoutNoop(),
		gomail.WithDialContextFunc(s.dial(&conn))}
	switch s.tls {
	case TLSImplicit:
		options = append(options, gomail.WithSSL())
	case TLSNone:
		options = append(options, gomail.WithTLSPolicy(gomail.NoTLS))
	default:
		options = append(options, gomail.WithTLSPolicy(gomail.TLSMandatory))
	}
	if s.user != "" { // NewServer requires TLS for a password
		options = append(options, gomail.WithOpportunisticSMTPAuth(gomail.SMTPAuthSCRAMSHA256, gomail.SMTPAuthSCRAMSHA1, gomail.SMTPAuthPlain, gomail.SMTPAuthLogin),
			gomail.WithUsername(s.user), gomail.WithPassword(s.password))
	}
	client, err := gomail.NewClient(s.host, options...)
	if err != nil {
		return fmt.Errorf("prepare the connection to the mail server: %w", err)
	}
	defer conn.close()
	defer context.AfterFunc(ctx, conn.close)()
	err = client.DialAndSendWithContext(ctx, msg)
	if err == nil || msg.IsDelivered() { // a failed farewell afterwards doesn't matter
		return nil
	}
	var refused *gomail.SendError
	if errors.As(err, &refused) && refused.ErrorCode() >= 500 && refused.ErrorCode() < 600 {
		return &RefusedError{err}
	}
	return err
}

// message builds the MIME message.
func (s *Server) message(l Letter) (*gomail.Msg, error) {
	if l.ID == "" || l.To == "" || l.Text == "" {
		return nil, errors.New("the message is incomplete")
	}
	_, domain, _ := strings.Cut(s.from.Address, "@")
	m := gomail.NewMsg(gomail.WithNoDefaultUserAgent())
	m.FromMailAddress(&mail.Address{Name: s.from.Name, Address: s.from.Address})
	m.ToMailAddress(&mail.Address{Address: l.To})
	m.Subject(oneLine(l.Subject))
	m.SetMessageIDWithValue(oneLine(l.ID) + "@" + domain)
	m.SetDateWithValue(l.Date)
	m.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no automatic replies
	if l.StopURL != "" {
		m.SetListUnsubscribe(l.StopURL)
		if strings.HasPrefix(l.StopURL, "https://") { // RFC 8058 requires https
			m.SetListUnsubscribePost()
		}
	}
	m.SetBodyString(gomail.TypeTextPlain, l.Text)
	if l.HTML != "" {
		m.AddAlternativeString(gomail.TypeTextHTML, l.HTML)
	}
	for _, f := range l.Files {
		m.AttachReadSeeker(oneLine(f.Name), bytes.NewReader(f.Data), gomail.WithFileContentType(gomail.ContentType(f.Type)))
	}
	return m, nil
}

// oneLine puts a text on one line, so that no name can end a header or disguise what follows.
func oneLine(s string) string {
	return strings.Join(strings.FieldsFunc(models.OneLine(s, math.MaxInt), func(r rune) bool { return r == ' ' }), " ")
}
