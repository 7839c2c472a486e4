package gpkg

import "strings"

// sqlTokens splits SQL into its tokens (sqlite.org/lang.html), so that two texts can be
// compared without their white space and comments. Words come in lower case, quoted
// names in double quotes as written, strings in single quotes. What does not end where
// it should comes as the token "?".
func sqlTokens(sql string) []string {
	var out []string
	for len(sql) > 0 {
		n := 1
		switch c := sql[0]; {
		case c == ' ' || c >= '\t' && c <= '\r':
			sql = sql[1:]
			continue
		case strings.HasPrefix(sql, "--"):
			n = strings.IndexByte(sql, '\n') + 1
			if n == 0 {
				return out
			}
			sql = sql[n:]
			continue
		case strings.HasPrefix(sql, "/*"):
			n = strings.Index(sql[2:], "*/")
			if n < 0 {
				return append(out, "?")
			}
			sql = sql[n+4:]
			continue
		case c == '\'' || c == '"' || c == '`' || c == '[':
			n = quotedLen(sql)
			if n == 0 {
				return append(out, "?")
			}
			out = append(out, quotedToken(sql[:n]))
			sql = sql[n:]
			continue
		case isWordByte(c):
			for n < len(sql) && isWordByte(sql[n]) {
				n++
			}
		}
		out = append(out, strings.ToLower(sql[:n]))
		sql = sql[n:]
	}
	return out
}

func isWordByte(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_' || c == '$' || c >= 0x80
}

// quotedLen is the length of the quoted token that sql begins with; 0 where it has no end.
func quotedLen(sql string) int {
	end := sql[0]
	if end == '[' {
		return strings.IndexByte(sql, ']') + 1
	}
	for i := 1; i < len(sql); i++ {
		if sql[i] != end {
			continue
		}
		if i+1 < len(sql) && sql[i+1] == end {
			i++
			continue
		}
		return i + 1
	}
	return 0
}

func quotedToken(s string) string {
	if s[0] == '\'' {
		return s
	}
	return quoteName(unquoteName(s))
}

// unquoteName is the name in a token.
func unquoteName(token string) string {
	if token == "" {
		return ""
	}
	switch q := token[:1]; q {
	case `"`, "`":
		return strings.ReplaceAll(token[1:len(token)-1], q+q, q)
	case "[":
		return token[1 : len(token)-1]
	}
	return token
}

func quoteName(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }
