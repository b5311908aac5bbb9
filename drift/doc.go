// Package drift flies a rocket many times on paper: one flight from ignition
// to landing, and the cloud of landings that its uncertain inputs make.
package drift
