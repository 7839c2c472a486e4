package compact

import (
	"strconv"
	"strings"
)

// A sentence is stored as a form, with a '#' in the place of each number, and the numbers:
// thousands of descents share a few hundred forms. A text that contains a '#' is stored unchanged
// after a literalMark.
const (
	numberMark  = '#'
	literalMark = '='
	mostDigits  = 15
)

// Texts are the forms to which packed bytes refer, by place; place 0 is the empty text.
type Texts struct {
	list  []string
	round uint32           // of reset
	known map[string]*form // of this round and earlier ones: most forms recur from hill to hill
	made  []byte           // kept between texts
}

// form is a text that is stored once, with '#' in the place of each number.
type form struct {
	text  string
	parts []string // before, between and behind its numbers; nil for a text that is stored unchanged
	place int64    // in the list of a round
	round uint32
	next  *form // that followed it last in a column: lists repeat from class to class and hill to hill
}

// mostForms is the number of forms that are kept from round to round.
const mostForms = 4096

// recentForms are the last forms of a column: most of its sentences have one of them, or the one that
// followed the last before.
type recentForms struct {
	forms [4]*form
	last  *form
}

// List are the forms, in order of their place from 1 on.
func (t *Texts) List() []string { return t.list }

func (t *Texts) reset() {
	t.list = t.list[:0]
	t.round++
	if len(t.known) > mostForms || t.round == 0 {
		t.known = nil
	}
}

// placeOf is the place of a text that is stored unchanged, such as a piece of JSON.
func (t *Texts) placeOf(text string) int64 {
	f := t.known[text]
	if f == nil {
		f = t.add(text)
	}
	return t.use(f)
}

func (t *Texts) add(text string) *form {
	if t.known == nil {
		t.known = map[string]*form{}
	}
	f := &form{text: text, round: t.round - 1}
	t.known[text] = f
	return f
}

// use is the place of a form in the list of this round.
func (t *Texts) use(f *form) int64 {
	if f.round != t.round {
		t.list = append(t.list, f.text)
		f.place, f.round = int64(len(t.list)), t.round
	}
	return f.place
}

// split returns the place of a sentence's form and appends its numbers to list. It looks among the
// recent forms of its column first.
func (t *Texts) split(s string, list []int64, recent *recentForms) (int64, []int64) {
	if s == "" {
		return 0, list
	}
	before := recent.last
	if before != nil && before.next != nil {
		if numbers, ok := before.next.match(s, list); ok {
			recent.last = before.next
			return t.use(before.next), numbers
		}
	}
	f, list := t.splitRecent(s, list, recent)
	if recent.last = nil; f.parts != nil {
		recent.last = f
		if before != nil {
			before.next = f
		}
	}
	return t.use(f), list
}

// splitRecent is split for a text that is not the expected one.
func (t *Texts) splitRecent(s string, list []int64, recent *recentForms) (*form, []int64) {
	for i, f := range recent.forms {
		if f == nil {
			break
		}
		if numbers, ok := f.match(s, list); ok {
			if i > 0 {
				recent.forms[0], recent.forms[i] = recent.forms[i], recent.forms[0]
			}
			return f, numbers
		}
	}
	f, list := t.splitNew(s, list)
	if f.parts != nil {
		copy(recent.forms[1:], recent.forms[:])
		recent.forms[0] = f
	}
	return f, list
}

// splitNew is split for a text without a recent form.
func (t *Texts) splitNew(s string, list []int64) (*form, []int64) {
	t.made = t.made[:0]
	isUnchanged := s[0] == literalMark || strings.IndexByte(s, numberMark) >= 0
	if isUnchanged {
		t.made = append(append(t.made, literalMark), s...)
	} else {
		list = t.takeNumbersOut(s, list)
	}
	f := t.known[string(t.made)]
	if f == nil {
		f = t.add(string(t.made))
	}
	if f.parts == nil && !isUnchanged {
		f.parts = strings.Split(f.text, string(numberMark))
	}
	return f, list
}

// match appends the numbers of s, if s has this form.
func (f *form) match(s string, list []int64) (numbers []int64, ok bool) {
	if !strings.HasPrefix(s, f.parts[0]) {
		return list, false
	}
	numbers = list
	s = s[len(f.parts[0]):]
	for _, part := range f.parts[1:] {
		n, length := numberIn(s)
		if length == 0 || !strings.HasPrefix(s[length:], part) {
			return list, false
		}
		numbers, s = append(numbers, n), s[length+len(part):]
	}
	return numbers, s == ""
}

// numberIn is the number with which s begins, as it is stored, and how many digits it has.
func numberIn(s string) (n int64, digits int) {
	for ; digits < len(s) && digits < mostDigits && s[digits] >= '0' && s[digits] <= '9'; digits++ {
		n = n*10 + int64(s[digits]-'0')
	}
	if digits > 1 && s[0] == '0' { // leading zeros: with a 1 before them
		return (n+powerOfTen(digits))<<1 | 1, digits
	}
	return n << 1, digits
}

// takeNumbersOut makes the form of s.
func (t *Texts) takeNumbersOut(s string, list []int64) []int64 {
	start := 0 // start of the part that is not yet in the form
	for i := 0; i < len(s); {
		if c := s[i]; c < '0' || c > '9' {
			i++
			continue
		}
		n, digits := numberIn(s[i:])
		list = append(list, n)
		t.made = append(append(t.made, s[start:i]...), numberMark)
		i += digits
		start = i
	}
	t.made = append(t.made, s[start:]...)
	return list
}

func powerOfTen(digits int) int64 {
	n := int64(1)
	for range digits {
		n *= 10
	}
	return n
}

// join returns the sentence of a form and its numbers, and the remaining numbers; ok is false where
// there are too few.
func join(form string, list []int64) (s string, rest []int64, ok bool) {
	if form == "" {
		return "", list, true
	}
	if form[0] == literalMark {
		return form[1:], list, true
	}
	n := strings.Count(form, string(numberMark))
	if n == 0 {
		return form, list, true
	}
	if n > len(list) {
		return "", nil, false
	}
	b := make([]byte, 0, len(form)+4*n)
	for k := range n {
		i := strings.IndexByte(form, numberMark)
		b = append(b, form[:i]...)
		form = form[i+1:]
		switch v := list[k]; {
		case v < 0:
			return "", nil, false
		case v&1 == 0:
			b = strconv.AppendInt(b, v>>1, 10)
		default:
			at := len(b)
			b = strconv.AppendInt(b, v>>1, 10)
			b = append(b[:at], b[at+1:]...) // the 1 before leading zeros
		}
	}
	return string(append(b, form...)), list[n:], true
}

// numbersIn is the count of numbers in a form.
func numbersIn(form string) int {
	if form == "" || form[0] == literalMark {
		return 0
	}
	return strings.Count(form, string(numberMark))
}
