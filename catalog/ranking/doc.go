// Package ranking orders routes and hills for one weight class: Compare judges which of
// several routes a truck can take, Ladder lists practice grades from the easiest to the
// hardest and says why the others are left out. The input is entries of the catalogue
// with their holds; no advice is computed here. A descent without advice for the class
// counts as not held. The ladder's points are this program's own: they rank, and are
// not a measure. Times are seconds, lengths metres, grades per cent. No function fails:
// a Verdict names what is unknown, and a grade that is left out has its reason. The
// same input gives the same order.
package ranking
