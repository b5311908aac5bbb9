package field

// Button is one of the flight clock. A press comes after what it tells of: Late
// is taken off its time, and Spread is the standard deviation of what is left.
type Button struct {
	Event  string  `json:"event"`
	Heard  bool    `json:"heard,omitempty"`
	Label  string  `json:"label"`
	Late   float64 `json:"late_s"`
	Spread float64 `json:"spread_s"`
	Source string  `json:"source"`
}

// How late a person presses after something sudden: 231 ms after a light in
// 1469 people, Woods et al., Frontiers in Human Neuroscience 9:131 (2015), from
// memory. They knew that it would come and where: at the field the spread is a
// choice of ours, much wider than theirs.
const (
	lightLate   = 0.23 // s
	lightSource = "simple reaction to light, Woods et al. 2015 (from memory); the spread is our choice"
	soundSource = "as for light, though sound is answered sooner; the spread is our choice"
	choice      = "our choice, no source: nothing is taken off"
)

// lost is the event of being lost from sight: the vehicle had not landed yet.
const lost = "lost"

// Buttons are those of the flight clock, in the order of a flight.
func Buttons() []Button {
	return []Button{
		{"ignition", false, "Ignition", 0, 0.3, "pressed with the countdown: " + choice},
		{"burnout", false, "Burnout", lightLate, 0.4, lightSource},
		{"ejection", false, "Ejection", lightLate, 0.4, lightSource},
		{"opening", false, "Device open", lightLate, 0.6, lightSource},
		{lost, false, "lost from sight", 0, 1.5, choice},
		{"landing", false, "Landing seen", lightLate, 0.5, lightSource},
		{"landing", true, "Landing heard", lightLate, 0.7, soundSource},
	}
}

// clocks is how far two phones' clocks are apart, s, standard deviation: a
// choice of ours; phones with a network are far better.
const clocks = 0.5

// buttonOf returns the button of an event; ok is false where it has none.
func buttonOf(event string, heard bool) (Button, bool) {
	for _, b := range Buttons() {
		if b.Event == event && (b.Heard == heard || event != "landing") {
			return b, true
		}
	}
	return Button{Event: event, Spread: 1, Source: choice}, false
}
