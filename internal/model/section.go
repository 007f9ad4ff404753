package model

// Section is a plane cut through the device, cell by cell, for a picture.
type Section struct {
	Axis     int       // axis the plane is normal to
	AtM      float64   // where, m
	UName    string    // name of the horizontal axis: "x", "y" or "z"
	VName    string    // name of the vertical axis (up in the picture)
	UPlanesM []float64 // cell borders along the horizontal axis, m
	VPlanesM []float64
	TK       []float64 // K per cell, index v*nu+u; NaN for outer air
	Part     []int     // index into Names; -1 for outer air
	Names    []string
}
