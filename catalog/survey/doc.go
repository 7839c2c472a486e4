// Package survey finds the descents of roads and keeps them in a catalogue.
//
// A Job is a complete survey: Begin takes the files of terrain and roads, Run samples
// the terrain along each route, recovers the grade line, finds the descents in both
// directions of travel, works out the advice for every weight class and stores the result;
// the methods of Job then read the answer. Results is the same without a catalogue and
// without files of its own, for a surface and routes that the caller has; One is one
// route of it.
//
// All figures are in SI units with the unit at the end of the name, downgrades in per
// cent. Stations are metres from the first vertex of the route's line. Errors are
// terrain.Fault with the place and what to do. What is missing is never silent: a route
// or a class that gave no answer is in Skipped, and Gaps names all that is missing.
//
// Bounds: a road line of at most 4 million vertices, a network of any length (memory
// does not grow with it), at most 100,000 parts.
package survey
