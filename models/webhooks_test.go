package models

import (
	"net"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestPublicAddress(t *testing.T) {
	t.Parallel()
	for _, s := range []string{"1.1.1.1", "8.8.8.8", "93.184.216.34", "2606:2800:220:1::1", "::ffff:8.8.8.8", "172.32.0.1", "100.128.0.1"} {
		require.True(t, PublicAddress(net.ParseIP(s)), s)
	}
	for _, s := range []string{"0.0.0.0", "0.1.2.3", "10.0.0.1", "100.64.0.1", "127.0.0.1", "127.255.255.254", "169.254.169.254", "172.16.0.1", "172.31.255.255", "192.168.0.1",
		"192.0.2.1", "198.18.0.1", "203.0.113.5", "224.0.0.1", "240.0.0.1", "255.255.255.255", "::", "::1", "fe80::1", "fc00::1", "fd12::1", "ff02::1", "2001:db8::1",
		"::ffff:127.0.0.1", "::ffff:192.168.1.1", "64:ff9b::7f00:1", "2002:7f00:1::"} {
		require.False(t, PublicAddress(net.ParseIP(s)), s)
	}
	require.False(t, PublicAddress(nil))
}

func TestAllowedHost(t *testing.T) {
	t.Parallel()
	list := []string{"hooks.example.com", "*.example.net"}
	for _, host := range []string{"hooks.example.com", "HOOKS.Example.com.", "a.example.net", "a.b.example.net"} {
		require.True(t, AllowedHost(list, host), host)
		require.True(t, AllowedHost(nil, host), host)
	}
	for _, host := range []string{"example.com", "a.hooks.example.com", "hooks.example.com.evil.test", "example.net", ".example.net", "evilexample.net", ""} {
		require.False(t, AllowedHost(list, host), host)
	}
	require.False(t, AllowedHost([]string{"*"}, "example.com"), "a star stands for the first part of a name")
}
