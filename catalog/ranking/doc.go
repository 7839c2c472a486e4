// Package ranking puts routes and hills in order for one weight class: Compare
// judges which of several routes a truck can take, Ladder lists practice grades
// from the easiest to the hardest and says why the others are left out.
//
// In go entries of the catalogue with their holds; nothing is computed anew. A
// descent without advice for the class counts as not held. The points of the
// ladder are this program's own: they rank, they measure nothing. Times are seconds,
// lengths metres, grades per cent. Nothing fails: what is not known is said in a Verdict,
// and what is left out comes with its reason. The same input gives the same order.
package ranking
