package evidence

// Influence is what one sighting did.
type Influence struct {
	Sighting
	Wrong float64
	Moved float64
}
