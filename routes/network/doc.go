// Package network makes through roads of the lines that people have, and finds a way
// through them for a truck.
//
// Lines are joined where their ends meet: with the line of the same ref or name, else
// with the straightest, through roundabouts, links, bridges and tunnels (Through, Read).
// Carriageways of over a kilometre stay one-way roads of their own. Roads are named by
// ref, name and place, and not by the numbers of the lines, so that a newer extract
// gives the same ids.
package network
