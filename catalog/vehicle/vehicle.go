// Package vehicle is the physics of a truck on a downgrade, as functions of numbers. It
// covers trucks and weight classes, the balance of forces at the wheels, the power of a
// retarder in a gear, the speeds that curves and sight allow, and the heat of service
// brakes that are dragged.
//
// Every figure takes the end that makes advice slower: low rolling resistance,
// low drag, thin air, a retarder's lower power. Speeds are metres per second,
// downgrades are per cent and positive going down, powers are watts at the
// wheels unless a name says otherwise.
//
// ParseClasses reads class files and says what is wrong with each figure as Faults, with
// its line. The physics takes numbers and gives numbers: it has no errors, a case that
// has no answer is 0, NaN or +Inf as its function says, and nothing is kept between calls.
package vehicle

import (
	"gradeline/catalog"
	"gradeline/terrain"
)

// GravityMPS2 is standard gravity, exact by definition (ISO 80000-3, from memory).
const GravityMPS2 = terrain.GravityMPS2

// HorsepowerW is the horsepower of 550 ft·lbf/s.
const HorsepowerW = catalog.HorsepowerW

// Bounds of the figures in a class file. A figure beyond them is a typing error.
const (
	lightestKg   = 1000.0   // lightest mass of a truck
	MostKg       = 200000.0 // heaviest mass that a class may name
	SteepestPct  = 25.0     // steepest downgrade that advice is given for
	HighestM     = 6000.0   // highest road, and
	LowestM      = -500.0   // lowest
	HottestC     = 60.0     // hottest air that advice is given for
	ColdestC     = -50.0    // and coldest
	leastRadiusM = 0.25     // smallest rolling radius, and
	mostRadiusM  = 0.8      // largest
	leastEngineL = 1.0      // smallest engine, and
	mostEngineL  = 40.0     // largest
	mostGears    = 24
	mostAxles    = 16
	mostCurve    = 64
	mostRetards  = 4
	mostStages   = 12
	mostClasses  = 200
	mostSources  = 60
	mostBytes    = 1 << 20
	mostFaults   = 50
	shortestText = 3
)
