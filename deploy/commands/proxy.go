package commands

import (
	"fmt"
	"net/netip"
)

// proxyNetwork is the network of a trusted reverse proxy: an address or a CIDR prefix.
type proxyNetwork netip.Prefix

func (p *proxyNetwork) UnmarshalText(text []byte) error {
	prefix, err := netip.ParsePrefix(string(text))
	if err != nil {
		a, notAddress := netip.ParseAddr(string(text))
		if notAddress != nil {
			return fmt.Errorf("%q is not an address or network such as 10.0.0.5 or 10.0.0.0/24", text)
		}
		prefix = netip.PrefixFrom(a, a.BitLen())
	}
	if prefix.Bits() == 0 {
		return fmt.Errorf("%s would let every client choose its own address; name the proxy's network", text)
	}
	*p = proxyNetwork(prefix.Masked())
	return nil
}

func prefixes(list []proxyNetwork) []netip.Prefix {
	var out []netip.Prefix
	for _, p := range list {
		out = append(out, netip.Prefix(p))
	}
	return out
}
