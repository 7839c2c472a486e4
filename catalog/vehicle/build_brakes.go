package vehicle

import "gradeline/catalog"

func (b builder) serviceBrakes(s *brakesTOML, country string) {
	const path = "truck.service_brakes."
	k := &b.c.Truck.ServiceBrakes
	if s == nil {
		s = &brakesTOML{}
	}
	k.Kind = b.brakeKind(s, path+"kind", country)
	k.PoorLining = true
	if s.PoorLining != nil {
		k.PoorLining = *s.PoorLining
	} else {
		b.note(path+"poor_lining", "true", "taken as poor unless the carrier knows better", "default")
	}
	if k.IsDisc() {
		k.DiscDiameterM = b.or(path+"disc_diameter_m", b.figure(path+"disc_diameter_m", s.DiscDiameterM, s.DiscDiameter, catalog.DimensionLengthM), defaultDiscDiameterM, "m", "430 mm, the usual disc for 22.5 in wheels", "from memory")
		k.DiscMassKg = b.or(path+"disc_mass_kg", b.figure(path+"disc_mass_kg", s.DiscMassKg, s.DiscMass, catalog.DimensionMassKg), defaultDiscMassKg, "kg", "the usual disc for 22.5 in wheels", "from memory")
		if s.hasDrumKeys() {
			b.rep.fault("truck.service_brakes", "disc brakes have no drum and no stroke to adjust", `remove chamber, adjusted_stroke_m and the drum's keys, or say kind = "drum"`)
		}
		return
	}
	if s.hasDiscKeys() {
		b.rep.fault("truck.service_brakes", "drum brakes have no disc", `remove the disc's keys, or say kind = "disc"`)
	}
	k.Chamber = "30"
	if s.Chamber != nil {
		k.Chamber = *s.Chamber
	} else {
		b.note(path+"chamber", "30", "clamp type 30, standard stroke", "default")
	}
	k.AdjustedStrokeM = b.or(path+"adjusted_stroke_m", b.figure(path+"adjusted_stroke_m", s.AdjustedStrokeM, s.AdjustedStroke, catalog.DimensionLengthM), defaultStrokeM, "m", "at the adjustment limit of a type 30, 2 in: 49 CFR 393.47", "second-hand")
	k.DrumDiameterM = b.or(path+"drum_diameter_m", b.figure(path+"drum_diameter_m", s.DrumDiameterM, s.DrumDiameter, catalog.DimensionLengthM), defaultDrumDiameterM, "m", "16.5 in, the usual drum", "common practice")
	k.DrumMassKg = b.or(path+"drum_mass_kg", b.figure(path+"drum_mass_kg", s.DrumMassKg, s.DrumMass, catalog.DimensionMassKg), defaultDrumMassKg, "kg", "about 100 lb, the usual drum", "from memory")
}

// brakeKind is the kind that the file says or that its other keys belong to; else discs in a
// country of disc brakes, and drums elsewhere and where the country is not known.
func (b builder) brakeKind(s *brakesTOML, path, country string) string {
	kind, source, status := DrumBrakes, "the usual kind outside Europe", "from memory"
	switch {
	case s.Kind != nil:
		return *s.Kind
	case s.hasDrumKeys():
		source, status = "the keys given are those of drum brakes", "default"
	case s.hasDiscKeys():
		kind, source, status = DiscBrakes, "the keys given are those of disc brakes", "default"
	case country == "":
		source, status = "the class's country is not given, so drums, which lose more when hot; give country, or kind here", "default"
	case hasDiscBrakes[country]:
		kind, source = DiscBrakes, "the usual kind in "+country
	}
	b.note(path, kind, source, status)
	return kind
}

// hasDiscKeys reports whether a key of disc brakes is given.
func (s *brakesTOML) hasDiscKeys() bool {
	return s.DiscDiameterM != nil || s.DiscDiameter != nil || s.DiscMassKg != nil || s.DiscMass != nil
}

// hasDrumKeys reports whether a key of drum brakes is given.
func (s *brakesTOML) hasDrumKeys() bool {
	return s.Chamber != nil || s.AdjustedStrokeM != nil || s.AdjustedStroke != nil ||
		s.DrumDiameterM != nil || s.DrumDiameter != nil || s.DrumMassKg != nil || s.DrumMass != nil
}
