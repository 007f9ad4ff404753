package radiate

// StefanBoltzmann is σ, W/(m² K⁴), CODATA 2018.
const StefanBoltzmann = 5.670374419e-8

// RadiativeCoefficient returns h, W/(m² K), with which h·(T1-T2) is exactly εσ(T1⁴-T2⁴).
func RadiativeCoefficient(emissivity, t1K, t2K float64) float64 {
	return emissivity * StefanBoltzmann * (t1K*t1K + t2K*t2K) * (t1K + t2K)
}

// ParallelFacesEmissivity returns the effective emissivity between two grey faces that see only each other,
// 1/(1/ε1 + 1/ε2 - 1); 0 when either does not radiate. (Incropera et al., 6th ed., eq. 13.19.)
func ParallelFacesEmissivity(emissivity1, emissivity2 float64) float64 {
	if emissivity1 <= 0 || emissivity2 <= 0 {
		return 0
	}
	return 1 / (1/emissivity1 + 1/emissivity2 - 1)
}
