// Package network joins lines of road data into through roads, and finds a way through them for a
// truck.
//
// # Through roads
//
// Lines are joined where their ends meet: with the line of the same ref or name, else
// with the straightest, through roundabouts, links, bridges and tunnels (Through, Read).
// Carriageways of over a kilometre stay one-way roads of their own. Roads are named by
// ref, name and place, and not by the numbers of the lines, so that a newer extract
// gives the same ids.
//
// The input is features with their tags (or files of them). The output is routes in the
// order of travel with their lengths in metres, and a list of lines that were left out,
// with reasons. A Graph answers a Query with a Way: edges in the order of travel, metres
// and seconds. Errors are *routes.Fault: ErrInput for places that are on no road, or
// between which there is no way, and those of package vector for files.
// # Which parts of a hold are local
//
// On 800 drawn hills of 3 to 8 km the advice for a complete hill was compared with that for its
// pieces of 100 to 980 m (measured once before this package was written; the table is in NOTES.md).
// With pieces that overlap by 100 m neither the hold nor the heaviest mass differed on any hill.
// With pieces that don't overlap the heaviest mass was too high, which is unsafe, on 79 of 800
// hills: demand is a mean over 100 m, so a piece needs the road beyond its ends.
//
// Not local are the limits of a descent itself (4 %, 800 m, relief), one gear for a whole
// hill, the heat of service brakes if they had to work, and the speeds of stretches.
//
// So Best does not rely on the holds of single edges. It searches by the least cost of
// each edge, has the best way surveyed as one line, and bans a stretch that fails, with
// 300 m of road around it. It repeats this until the edge costs of the next way reach
// the cost of the best. That is exact as long as edge costs never overstate, and a
// stretch that fails with its surroundings fails in every way that contains both. A
// property test in catalog/survey compares the answers with all ways of drawn networks.
//
// # Turns
//
// The search is over edges and not over nodes, with the state of an automaton of banned
// sequences: rules by node are sequences of two edges, rules by ways and failed hills
// are longer ones.
package network
