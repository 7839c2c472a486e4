// Package vehicle is the physics of a truck on a downgrade: a leaf, numbers in
// and numbers out.
package vehicle
