package vehicle

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
)

const seeTemplate = "see `gradeline classes template` for the keys"

// decode reads the text of a class file. It reports every key that is unknown and every value of the
// wrong kind. False: values were wrong, so no class can be made.
func (r *reporter) decode(raw []byte, file *fileTOML) bool {
	if !utf8.Valid(raw) || bytes.IndexByte(raw, 0) >= 0 {
		r.faultAt(1, "is not text in UTF-8", "save it in the editor as UTF-8, or name a TOML file")
		return false
	}
	isWhole := true
	rows := bytes.SplitAfter(raw, []byte("\n"))
	for range mostFaults {
		*file = fileTOML{}
		err := toml.NewDecoder(bytes.NewReader(bytes.Join(rows, nil))).DisallowUnknownFields().Decode(file)
		var strict *toml.StrictMissingError
		var decode *toml.DecodeError
		switch {
		case err == nil:
			return isWhole
		case errors.As(err, &strict):
			for _, e := range strict.Errors {
				row, _ := e.Position()
				r.faultAt(row, fmt.Sprintf("%q is not a key of a class file", keyText(e.Key()))+nearKey(e.Key()), seeTemplate)
			}
			return isWhole
		case !errors.As(err, &decode):
			r.faultAt(0, err.Error(), "correct the TOML")
			return false
		}
		row, _ := decode.Position()
		isWhole = false
		key := decode.Key()
		if row < 1 || row > len(rows) || len(key) == 0 || !strings.Contains(decode.Error(), intoField) {
			r.faultAt(row, keyed(key, decode.Error()), syntaxFix(decode.Error(), rows, row))
			return false
		}
		what, fix := wrongKind(key[len(key)-1], decode.Error(), string(rows[row-1]))
		r.faultAt(row, keyed(key, what), fix)
		if !isOneLine(rows[row-1]) {
			return false // the rest of the file cannot be told from this value
		}
		rows[row-1] = []byte("\n") // and what else is wrong
	}
	return false
}

func keyed(key []string, what string) string {
	if len(key) == 0 {
		return what
	}
	return keyText(key) + ": " + what
}

var (
	decimalCommaIn = regexp.MustCompile(`^[^"#]*[0-9],[0-9]`)
	figureIn       = regexp.MustCompile(`[0-9]+(?:\.[0-9]+)?`)
	wholeValue     = regexp.MustCompile(`^\s*[A-Za-z0-9_]+\s*=\s*(?:"[^"]*"|[0-9.eE+-]+|true|false|\[[^\[\]"]*\])\s*(?:#.*)?\s*$`)
)

// isOneLine reports whether a line is one key with its complete value.
func isOneLine(line []byte) bool { return wholeValue.Match(line) }

// syntaxFix is what to do about a line that is not TOML.
func syntaxFix(fault string, rows [][]byte, row int) string {
	if row >= 1 && row <= len(rows) && decimalCommaIn.Match(rows[row-1]) {
		return "write decimals with a point, as in 2.59, and a comma only between the figures of a list"
	}
	if strings.Contains(fault, "already defined") {
		return "keep one of the two"
	}
	return "correct the TOML: key = number, key = \"text\", key = true or key = [list]"
}

const intoField = " into struct field "

// wrongKind puts a decoder's fault about the kind of a value into words for the person who wrote it.
func wrongKind(key, fault, line string) (what, fix string) {
	found, goType, _ := strings.Cut(fault, intoField)
	_, goType, _ = strings.Cut(goType, " of type ")
	found = strings.TrimPrefix(found, "toml: cannot decode TOML ")
	goType = strings.TrimLeft(goType, "*")
	_, value, _ := strings.Cut(line, "=")
	figure := figureIn.FindString(value)
	switch {
	case goType == "string" && key == "chamber":
		return "a bare " + found + " where a text in quotes belongs", fmt.Sprintf("write chamber = %q", figure)
	case goType == "string" && isQuantityKey(key):
		return "a bare " + found + " where a text in quotes belongs", `write a quantity with its unit, as in mass_max = "80000 lb", or use the key that ends in the unit, as mass_max_kg`
	case goType == "string":
		return "a bare " + found + " where a text in quotes belongs", fmt.Sprintf(`write %s = "…"`, key)
	case goType == "float64" && quantityKey(key) != "":
		return "a " + found + " where a bare number belongs", fmt.Sprintf("write the number in the unit at the end of the key, or the quantity with its unit as %s", quantityKey(key))
	case goType == "float64" || goType == "int":
		if figure == "" {
			figure = "a number"
		}
		return "a " + found + " where a bare number belongs", fmt.Sprintf("write %s = %s", key, figure)
	case goType == "bool":
		return "a " + found + " where yes or no belongs", fmt.Sprintf("write %s = true or %s = false, without quotes", key, key)
	case key == "legal":
		return "a " + found + " where a source and its status belong", `write legal = { source = "80,000 lb, 23 U.S.C. 127", status = "published" }`
	case strings.HasPrefix(goType, "[][][]"):
		return "a " + found + " where one list of points a stage belongs", fmt.Sprintf("write %s = [[[1100, 40], [2100, 120]], [[1100, 110], [2100, 350]]]", key)
	case strings.HasPrefix(goType, "[][]"):
		return "a " + found + " where a list of points belongs", fmt.Sprintf("write %s = [[rpm, figure], [rpm, figure]]; one point, [[2100, 373]], is enough", key)
	case strings.HasPrefix(goType, "[]string"):
		return "a " + found + " where a list of texts belongs", fmt.Sprintf(`write %s = ["1", "2", "3"]`, key)
	case strings.HasPrefix(goType, "[]float64"):
		return "a " + found + " where a list of numbers belongs", fmt.Sprintf("write %s = [figure, figure], with points for decimals", key)
	}
	return "a " + found + " does not belong here", seeTemplate
}
