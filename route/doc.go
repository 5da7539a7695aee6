// Package route holds courses over the Earth: geodesics on the WGS84
// ellipsoid, tracks of waypoints, areas to keep out of, and the
// earliest-arrival search over positions and states in moving weather.
//
// Points are orb.Point, that is {longitude, latitude} in degrees, longitude
// east. Functions return longitudes in [−180, 180) and accept any finite
// longitude. Directions are radians clockwise from true north in [0, 2π).
// Distances are metres along the geodesic.
//
// The search (Search) knows nothing of boats: it asks a Mover how long each
// edge takes in each state.
package route
