// Package recorded matches a recorded drive to the line of a road.
// Input: fixes of longitude, latitude and time (routes.Fix), and the points of a line with
// their distances along it, metres. Output: for each fix on the road its distance along
// the line and its offset from it, metres; runs of fixes that are further off; and the
// passes, each in one direction. Nothing is read or written.
package recorded
