// Package ranking puts routes and hills in order for one weight class: Compare
// judges which of several routes a truck can take, Ladder lists practice grades
// from the easiest to the hardest and says why the others are left out.
//
// In go entries of the catalogue with their holds; nothing is computed anew. A
// descent without advice for the class counts as not held. The points of the
// ladder are this program's own: they rank, they measure nothing.
package ranking
