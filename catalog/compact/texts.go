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
	place map[string]int64
	form  []byte // kept between texts
	// recent are texts that were split before, by recentPlace: most sentences occur several times in
	// the advice of a descent.
	recent  [recentTexts]recentText
	round   uint32  // of reset
	numbers []int64 // of recent
}

const recentTexts = 256

// recentText is a text with the place of its form and its numbers.
type recentText struct {
	text     string
	place    int64
	from, to int // in Texts.numbers
	round    uint32
}

// recentPlace is a hash of a text that is not empty, of its length, beginning, middle and end.
func recentPlace(s string) int {
	n := len(s)
	h := uint32(n)*0x9e3779b1 ^ uint32(s[0]) ^ uint32(s[n/2])<<8 ^ uint32(s[n-1])<<16 ^ uint32(s[n/3])<<24
	return int(h * 0x85ebca6b >> 24)
}

// List are the forms, in order of their place from 1 on.
func (t *Texts) List() []string { return t.list }

func (t *Texts) reset() {
	t.list = t.list[:0]
	clear(t.place)
	t.round++
	t.numbers = t.numbers[:0]
}

// placeOf is the place of a text that is stored unchanged, such as a piece of JSON.
func (t *Texts) placeOf(form string) int64 {
	if i, known := t.place[form]; known {
		return i
	}
	return t.add(form)
}

func (t *Texts) add(form string) int64 {
	if t.place == nil {
		t.place = map[string]int64{}
	}
	t.list = append(t.list, form)
	i := int64(len(t.list))
	t.place[form] = i
	return i
}

// split returns the place of a sentence's form and appends its numbers to list.
func (t *Texts) split(s string, list []int64) (int64, []int64) {
	if s == "" {
		return 0, list
	}
	known := &t.recent[recentPlace(s)]
	if known.text == s && known.round == t.round {
		return known.place, append(list, t.numbers[known.from:known.to]...)
	}
	before := len(list)
	place, list := t.splitNew(s, list)
	from := len(t.numbers)
	t.numbers = append(t.numbers, list[before:]...)
	*known = recentText{s, place, from, len(t.numbers), t.round}
	return place, list
}

// splitNew is split for a text that is not among the recent ones.
func (t *Texts) splitNew(s string, list []int64) (int64, []int64) {
	t.form = t.form[:0]
	if s[0] == literalMark || strings.IndexByte(s, numberMark) >= 0 {
		t.form = append(append(t.form, literalMark), s...)
	} else {
		list = t.takeNumbersOut(s, list)
	}
	if i, known := t.place[string(t.form)]; known {
		return i, list
	}
	return t.add(string(t.form)), list
}

// takeNumbersOut makes the form of s.
func (t *Texts) takeNumbersOut(s string, list []int64) []int64 {
	start := 0 // start of the part that is not yet in the form
	for i := 0; i < len(s); {
		if c := s[i]; c < '0' || c > '9' {
			i++
			continue
		}
		first, n := i, int64(0)
		for ; i < len(s) && i < first+mostDigits && s[i] >= '0' && s[i] <= '9'; i++ {
			n = n*10 + int64(s[i]-'0')
		}
		n <<= 1
		if s[first] == '0' && i > first+1 { // leading zeros: with a 1 before them
			n = n>>1 + powerOfTen(i-first)
			n = n<<1 | 1
		}
		list = append(list, n)
		t.form = append(append(t.form, s[start:first]...), numberMark)
		start = i
	}
	t.form = append(t.form, s[start:]...)
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
