package commands

import (
	"fmt"
	"net/url"
	"strings"
)

// webOrigin is where web pages come from: a scheme, a host and perhaps a port, as browsers send it in the header Origin.
type webOrigin string

func (o *webOrigin) UnmarshalText(text []byte) error {
	u, err := url.Parse(strings.ToLower(string(text)))
	if err != nil || (u.Scheme != "https" && u.Scheme != "http") || u.Hostname() == "" || strings.Contains(u.Host, "*") ||
		u.User != nil || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" || u.Fragment != "" {
		return fmt.Errorf("%q is not an origin such as https://app.example.com or http://localhost:5173", text)
	}
	usual := map[string]string{"https": ":443", "http": ":80"}[u.Scheme]
	*o = webOrigin(u.Scheme + "://" + strings.TrimSuffix(u.Host, usual))
	return nil
}

func origins(list []webOrigin) []string {
	var out []string
	for _, o := range list {
		out = append(out, string(o))
	}
	return out
}
