// Package search plans who walks or flies where, and in which order, to find
// what lies somewhere on a probability map.
package search
