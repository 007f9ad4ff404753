// Package ray follows straight lines through the outer air of a grid: what each surface of a device sees of the others and of
// the surroundings (Trace), and how much of a beam each takes in, shadows included (Lit). It knows no temperature, and no
// posture: up is said when the views are split into sky and ground.
//
// # What is in the way
//
// Flat parts along the axes are their cells, exactly. A curved or oblique surface is, in each cell it cuts, the plane through its
// element there: a ray is stopped where it is behind the planes of all elements one body has in that cell. A convex surface thus
// does not see itself, but for the corners between neighbouring planes (3 rays in 10 000 of a bar that is four cells thick); an
// inner edge of an oblique body is placed to about a cell.
//
// # How good it is
//
// View factors of rectangles against closed forms: within 0.25 % at DefaultRays, smoothed. Disks, bores and bars within 1 %, a
// turned fin block in cells four times as wide as its fins within 0.5 % of a straight one.
//
// Nothing depends on the number of cores, the clock or chance: the same grid gives the same result, bit by bit.
//
// Start reading at Trace.
package ray
