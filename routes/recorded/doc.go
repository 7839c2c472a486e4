// Package recorded lays a recorded drive on the line of a road.
//
// In: fixes of longitude, latitude and time (routes.Fix), and the points of a line with
// their distances along it, metres. Out: for each fix on the road its distance along the
// line and how far beside it the fix lies, metres; what lies further off is summed up in
// runs; and the passes, each of which goes one way. Nothing is read or written.
package recorded
