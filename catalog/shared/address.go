package shared

import "regexp"

var (
	// scheme begins an address; schemes are read in any case (RFC 3986 section 3.1).
	scheme = regexp.MustCompile(`^\s*(?i:(postgres(?:ql)?)://)`)

	// keyWords begin an address that is written as libpq's key words (postgresql.org/docs/15/libpq-connect.html),
	// in any order, and schema, which is ours.
	keyWords = regexp.MustCompile(`^\s*(service|host|hostaddr|port|dbname|database|user|password|passfile|require_auth|channel_binding|connect_timeout|client_encoding|options|` +
		`application_name|fallback_application_name|keepalives\w*|tcp_user_timeout|replication|gssencmode|ssl\w+|requiressl|requirepeer|krbsrvname|gsslib|target_session_attrs|load_balance_hosts|schema)\s*=\s*\S`)

	// Passwords in addresses, and in texts that were meant as one: after a user's name, and as a key word
	// or parameter.
	userPassword = regexp.MustCompile(`((?i:[a-z]+:?//|postgres[a-z]*:?/)[^\s/:@?#]*):\S*@`)
	keyPassword  = regexp.MustCompile(`((?i:password)\s*=\s*)(?:'(?:[^'\\]|\\.)*'?|[^\s&;,"]+)`)
)

// IsAddress reports whether a catalogue's name is the address of a database, not a file:
// postgres://… or postgresql://…, or libpq's key words, as in "service=hills".
func IsAddress(name string) bool { return scheme.MatchString(name) || keyWords.MatchString(name) }

// Spelled is an address as the library reads it: the scheme in small letters, nothing before it.
func Spelled(address string) string { return scheme.ReplaceAllString(address, "postgres://") }

// NameOf is an address without its password, for messages; a file's name is returned as it is.
func NameOf(address string) string {
	if !IsAddress(address) {
		return address
	}
	p, err := parse(address)
	if err != nil {
		return "the database"
	}
	return p.name
}

// WithoutPasswords takes passwords out of a text that may quote an address, or what was meant as one.
func WithoutPasswords(text string) string {
	return keyPassword.ReplaceAllString(userPassword.ReplaceAllString(text, "$1:(password)@"), "$1(password)")
}
