// Package model turns a device's file, with a number chosen for each doubtful quantity, into a heat model: solids placed and
// cut into cells, capacities and conductances between cells, joints at the faces where parts touch, named outer surfaces
// with their film laws, heat sources, and the places where temperatures are asked for. It is the only place where the file,
// the geometry, the surface formulas and the solver meet.
//
// Two stages, so that what costs most is done once:
//
//	NewShape   file → solids → grid → touching parts, named surfaces        (depends on sizes only)
//	Shape.At   shape + values + conditions → heat.Model                      (cheap; called for every draw of the unknowns)
//
// Whatever the file leaves out or leaves in doubt is looked up through one function, (*resolver).value, which records it as
// an Unknown with its prior and source. Nothing is assumed in silence: Model.Unknowns is the complete list.
package model
