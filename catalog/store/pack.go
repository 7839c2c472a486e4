package store

import (
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
)

// packed is the part of an entry that is written in addition to its columns and its profile.
type packed struct {
	geom, line []byte
	box        gpkg.Envelope
	advice     packedAdvice
}

// packLines makes the line as a GIS draws it, and with every vertex.
func (k *packed) packLines(line []catalog.Vertex) {
	k.geom, k.box = gpkg.AppendLine(nil, drawn(line))
	k.line = packLine(line)
}

// Packed is what a survey's entries become in the file, made before they are saved so that
// the one writer of the file has less to do.
type Packed struct {
	samples [][]byte
	entries []packed
}

// Pack checks the entries of a survey as Save does, and packs them with their stretches of its
// profile. It reads no catalogue.
func Pack(rs *RouteSurvey) (*Packed, error) {
	if err := checkSurvey(rs); err != nil {
		return nil, err
	}
	k := &Packed{make([][]byte, len(rs.Entries)), make([]packed, len(rs.Entries))}
	for i := range rs.Entries {
		e := &rs.Entries[i]
		if rs.Profile != nil {
			if stretch := stretchOf(rs.Profile, &e.Descent); stretch != nil {
				var err error
				if k.samples[i], err = packProfile(stretch); err != nil {
					return nil, err
				}
			}
		}
		holds := e.Holds
		if holds == nil {
			holds = []catalog.Hold{}
		}
		k.entries[i].packLines(e.Line)
		var err error
		if k.entries[i].advice, err = packAdvice(holds); err != nil {
			return nil, err
		}
	}
	return k, nil
}

// packedOf is the packed part of a step's entry; it is packed now if it was not before.
func (p *plan) packedOf(st *resurvey.Step) (*packed, error) {
	if st.Index < len(p.packed) && p.packed[st.Index].line != nil {
		return &p.packed[st.Index], nil
	}
	k := &packed{}
	k.packLines(st.Entry.Line)
	var err error
	k.advice, err = packAdvice(st.Entry.Holds)
	return k, err
}

// pack makes what the plan will write, on as many processors as there are, where it was not
// packed before.
func (p *plan) pack(ready *Packed) error {
	if ready != nil && p.from == nil && len(ready.entries) == len(p.Entries) {
		p.samples, p.packed = ready.samples, ready.entries
		return nil
	}
	p.samples, p.packed = make([][]byte, len(p.Entries)), make([]packed, len(p.Entries))
	var tasks []func() error
	for i := range p.Steps {
		st := &p.Steps[i]
		at := st.Index
		if p.from != nil {
			p.samples[at] = p.from.samples[at]
		}
		if st.Do == resurvey.Keep {
			continue
		}
		if p.Survey.Profile != nil {
			tasks = append(tasks, func() (err error) {
				if stretch := stretchOf(p.Survey.Profile, &st.Entry.Descent); stretch != nil {
					p.samples[at], err = packProfile(stretch)
				}
				return err
			})
		}
		if st.Do != resurvey.Propose {
			tasks = append(tasks, func() (err error) {
				p.packed[at].packLines(st.Entry.Line)
				p.packed[at].advice, err = packAdvice(st.Entry.Holds)
				return err
			})
		}
	}
	return inParallel(tasks)
}

// inParallel runs tasks on all processors and gives the first error in their order.
func inParallel(tasks []func() error) error {
	errs := make([]error, len(tasks))
	var next atomic.Int64
	work := func() {
		for i := int(next.Add(1)) - 1; i < len(tasks); i = int(next.Add(1)) - 1 {
			errs[i] = tasks[i]()
		}
	}
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(tasks)) - 1 {
		wg.Add(1)
		go func() { defer wg.Done(); work() }()
	}
	work()
	wg.Wait()
	if i := slices.IndexFunc(errs, func(err error) bool { return err != nil }); i >= 0 {
		return errs[i]
	}
	return nil
}
