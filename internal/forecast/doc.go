// Package forecast says, while a bench test still runs, when and how it will end.
//
// It holds draws of what is not known of the device, each with the whole run that the device would make (Device). What probes have
// read so far makes some draws likelier than others:
//
//	reading(t) = model(t; draw) + offset + gain·rise(t) - lag·slope(t) + misfit(t) + noise        per probe
//
// where offset, gain and lag are constants of the probe, and misfit is what the model cannot follow, alike for a quarter of an hour. All
// of them are normal and independent of the draw, so the readings have one covariance (errors.go) and the likelihood is closed.
// Each update weighs all readings so far anew, thinned to a few means: nothing is counted twice. A draw whose run would have
// ended before now is out. When few draws carry all the weight, new ones are drawn about the likeliest values, weighted by what they
// were drawn too often, and moved (draws.go).
//
// FromCurve is the poorer forecast for who has no device file: from the curve alone.
//
// Start reading at New and (*Forecast).Update.
package forecast
