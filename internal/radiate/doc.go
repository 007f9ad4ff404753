// Package radiate is the exchange of radiation between surfaces, in numbers: view factors in closed form, the matrix of view
// factors made reciprocal and closed (Views), long-wave exchange of grey diffuse surfaces with all reflections (Exchange), and
// what becomes of short-wave light that is reflected about (Absorbed). It knows no geometry and no device.
//
// Surfaces are grey, diffuse, opaque and evenly warm, and leave and receive evenly over their area; the air takes no part. Far
// fields (sky, ground, a room's walls) are black at temperatures of their own.
//
// Start reading at NewExchange.
package radiate
