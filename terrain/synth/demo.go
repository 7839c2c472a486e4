package synth

import "math"

// DemoName names the area of Demo.
const DemoName = "Quendrel Heights (invented)"

const demoSeed = 62

// Demo makes the scene of the demonstration: an invented mountain area in the
// middle of an ocean, three invented roads and six descents of different kinds.
// Heights are rounded to 1/8 m, which compresses well.
//
//   - Veltrane Pass Road: 10 km of even 6 %, and 3 km of gentle 4.5 % on its other side (backward)
//   - Old Quendrel Road: 4.4 km of 11.5 % with switchbacks, which heavy
//     combinations cannot hold; and two steep parts of 7 % with a bench between
//     (backward)
//   - Brasket Gap Road: 1.6 km with a mean of 9.4 %, and 3.9 km of 6.8 % over a bridge and
//     through a tunnel
func Demo() *Scene {
	sc := newScene(demoOptions, []plannedRoad{veltrane, quendrel, brasket})
	sc.render(demoOptions)
	for i, z := range sc.Grid.ElevationM {
		sc.Grid.ElevationM[i] = float32(math.Round(float64(z)*8) / 8)
	}
	return sc
}

// DemoRoads are the roads of Demo alone: the ground takes seconds to draw.
func DemoRoads() []*Road {
	return newScene(demoOptions, []plannedRoad{veltrane, quendrel, brasket}).Roads
}

var demoOptions = sceneOptions{
	name: DemoName, seed: demoSeed, lon0Deg: -40, lat0Deg: 42,
	widthM: 14e3, heightM: 11e3, cellM: 10, noise: 1, lateralM: 3,
	terrain: terrainParams{slopeRMS: 0.36, hurst: 1.05, microRMS: 0.025, cutFillM: 1.5, cutSlope: 1.2, fillSlope: 0.6},
}

var veltrane = plannedRoad{
	name: "Veltrane Pass Road", ref: "V 1", speedKMH: 80, benchM: 6, startElevM: 1300,
	tags: map[string]string{"highway": "primary", "maxspeed": "80", "surface": "asphalt"},
	plan: []pi{{400, 5200, 0}, {1900, 5900, 800}, {3300, 5000, 700}, {4700, 5900, 900}, {6300, 4600, 800},
		{7700, 6200, 650}, {9200, 4900, 600}, {10500, 6400, 550}, {12000, 5300, 700}, {13600, 5900, 0}},
	tangents: []tangent{{900, 0.4}, {3200, 4.5}, {600, 0.3}, {10000, -6}, {900, -0.4}},
}

var quendrel = plannedRoad{
	name: "Old Quendrel Road", ref: "Q 27", speedKMH: 50, benchM: 4.5, startElevM: 1600,
	tags: map[string]string{"highway": "secondary", "maxspeed": "60", "surface": "asphalt", "incline": "down"},
	plan: []pi{{700, 3700, 0}, {1900, 3500, 90}, {2750, 3400, 32}, {1850, 3100, 32}, {2900, 2800, 32}, {2000, 2450, 32},
		{3300, 2100, 120}, {4100, 1300, 150}, {5600, 900, 200}, {7000, 1500, 200}, {8300, 1000, 200},
		{9700, 1900, 150}, {10900, 1500, 150}, {12300, 2500, 0}},
	tangents: []tangent{{600, -1}, {4400, -11.5}, {900, -1.5}, {900, 1.2}, {1000, -0.8}, {1000, 1.5},
		{2200, 7}, {420, 1}, {2200, 7}, {900, 1}, {1000, -0.5}},
}

var brasket = plannedRoad{
	name: "Brasket Gap Road", ref: "B 14", speedKMH: 70, benchM: 5.5, startElevM: 1750,
	tags: map[string]string{"highway": "secondary", "maxspeed": "70", "surface": "asphalt"},
	plan: []pi{{500, 9600, 0}, {1900, 9900, 600}, {3200, 9000, 500}, {4500, 9700, 450}, {5900, 8700, 550},
		{7300, 9500, 500}, {8700, 8500, 600}, {10200, 9300, 700}, {11600, 8500, 0}},
	tangents: []tangent{{700, -1}, {1500, -10.4}, {700, 1.5}, {900, -1}, {1500, 3}, {500, 0.5}, {3900, -6.8}, {1200, -0.6}, {1100, 1}},
	structures: []span{
		{from: 6900, to: 7160, departureM: -45, skew: 1, power: 2.5},
		{from: 8000, to: 8640, departureM: 110, skew: 1, power: 2.5, tunnel: true},
	},
}
