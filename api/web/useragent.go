package web

import "strings"

// browserName returns a readable name for a User-Agent. The first match counts, since browsers also name others for compatibility.
func browserName(agent string, v voice) string {
	find := func(names [][2]string) string {
		for _, n := range names {
			if strings.Contains(agent, n[0]) {
				return n[1]
			}
		}
		return ""
	}
	browser := find([][2]string{{"Firefox/", "Firefox"}, {"Edg", "Edge"}, {"OPR/", "Opera"}, {"SamsungBrowser/", "Samsung Internet"},
		{"Chrome/", "Chrome"}, {"CriOS/", "Chrome"}, {"FxiOS/", "Firefox"}, {"Safari/", "Safari"}})
	system := find([][2]string{{"Android", "Android"}, {"iPhone", "iPhone"}, {"iPad", "iPad"}, {"Windows", "Windows"}, {"Mac OS X", "Mac"}, {"CrOS", "ChromeOS"}, {"Linux", "Linux"}})
	switch {
	case browser != "" && system != "":
		return v.Say("people.sessions.on", "browser", browser, "system", system)
	case agent == "":
		return v.Say("people.nameless")
	}
	return truncate(agent, 60)
}
