package surface

// Laws returns every relation and estimate of the package, for lists in reports and for checks.
func Laws() []*Law {
	return []*Law{
		&VerticalPlateLaw, &VerticalPlateLaminarLaw, &InclinedPlateLaw, &UpwardPlateLaw, &DownwardPlateLaw,
		&UpwardPlateClassicLaw, &DownwardPlateClassicLaw, &FaceLaw, &CuboidLaw, &BodyDiffusionLaw,
		&CylinderLaw, &UprightCylinderLaw, &InclinedCylinderLaw,
		&ElenbaasLaw, &ChannelLaw, &UChannelLaw, &InclinedChannelLaw, &HorizontalArrayLaw, &DownwardArrayLaw, &BreathingLaw,
		&FlatPlateLaw, &BodyForcedLaw, &CubeFacesLaw, &CylinderForcedLaw, &DuctForcedLaw, &ChannelWindLaw, &MixedLaw,
		&UprightGapLaw, &SquareGapLaw, &TiltedGapLaw,
	}
}
