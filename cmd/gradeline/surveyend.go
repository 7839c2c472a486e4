package main

import "slices"

// finish commits what is left and puts the profile file in place.
func (o *surveyOut) finish() error {
	o.progress.end()
	if o.routes == 0 && o.failed != nil {
		return o.failed
	}
	if o.batch != nil {
		if err := o.batch.Close(); err != nil {
			return err
		}
		o.batch = nil
	}
	if o.spool == nil { // not one route: an empty answer
		if err := o.put(&record{partMeta: []byte("{}")}); err != nil {
			return err
		}
	}
	if err := o.writeProfile(); err != nil {
		return err
	}
	for _, w := range o.surface.Warnings() {
		o.warned[w] = true
	}
	for w := range o.warned {
		o.warnings = append(o.warnings, w)
	}
	slices.Sort(o.warnings)
	var err error
	o.steps, err = o.overlap.steps(o.c.Context)
	if err != nil { // the routes are in the catalogue already; this is a gap in what is known of them
		o.steps = append(o.steps, "the rasters could not be compared with each other: "+oneLine(err.Error()))
	}
	o.warnings = append(o.warnings, o.steps...)
	return nil
}

// keepWhole commits the whole routes of a survey that was cut short.
func (o *surveyOut) keepWhole() {
	o.progress.end()
	if o.batch != nil {
		if err := o.batch.Close(); err != nil {
			o.s.say("gradeline: %v", err)
		}
		o.batch = nil
	}
}

// abandon releases what is still open. The working file of a survey that was cut
// short stays for the next one to take up.
func (o *surveyOut) abandon() {
	if o.batch != nil {
		_ = o.batch.Abort() // nothing of it is wanted
	}
	if o.spool != nil {
		if o.finished || o.routes == 0 {
			o.spool.remove()
		} else {
			o.spool.keep()
		}
	}
	for _, s := range o.before.files {
		if o.finished {
			s.remove()
		} else {
			s.keep()
		}
	}
	if o.finished && !o.c.Bool("dry-run") {
		dropUnfinished(o.c.String("catalog"), o.head)
	}
	if o.cat != nil {
		_ = o.cat.Close() // committed already, or given up
	}
}
