// Package debrief analyses a recorded drive down a descent: speeds compared with the
// advice, gear and speed before the crest, time out of gear, and the least and the most
// work of the service brakes.
//
// The input is a descent, the grade line of its road, a class, the advice and a
// recording (Input); the result is a Debrief. Distances are metres from the crest in
// travel, negative before it; half-widths are 95 %. The drive is matched to the road by
// the cheapest path through its candidate places, so that both legs of a hairpin are
// tried. An excess counts only beyond the recording's own error. A gap shows nothing
// about the brakes.
package debrief
