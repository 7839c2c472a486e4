package holding

import (
	"math"

	"gradeline/catalog/vehicle"
)

// friction is what the retarded axles need from the road at a speed, on the
// stretch that asks most: retarding force over the load on them.
func (p *problem) friction(speedMPS float64) float64 {
	share := p.truck.RetardedShare()
	most := 0.0
	for _, s := range p.long {
		f := p.massKg*s.pullMPS2 - s.dragKgPerM*speedMPS*speedMPS
		most = math.Max(most, f/(share*p.massKg*vehicle.GravityMPS2*s.cos))
	}
	return most
}

// ungrippedW is the power that a dry road doesn't let the retarded axles take.
func (p *problem) ungrippedW(speedMPS float64) float64 {
	share := p.truck.RetardedShare()
	most := 0.0
	for _, s := range p.long {
		over := s.pullMPS2 - vehicle.DryFriction()*share*vehicle.GravityMPS2*s.cos
		most = math.Max(most, p.massKg*over*speedMPS)
	}
	return most
}

// surfacesOut are the surfaces whose friction doesn't carry the retarding force.
func surfacesOut(needed float64) []string {
	out := []string{}
	for _, s := range vehicle.Surfaces {
		if needed > s.Friction*vehicle.FrictionKeptShare {
			out = append(out, s.Name)
		}
	}
	return out
}

// shownFriction is a friction needed as told: rounded up to 0.01.
func shownFriction(needed float64) float64 { return math.Ceil(needed*100-1e-9) / 100 }
