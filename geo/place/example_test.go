package place_test

import (
	"fmt"

	"windfall/geo/place"
)

func Example() {
	p, _ := place.Parse("39°03.072'N 5°34.986'W")
	fmt.Println(place.Format(p, place.Decimal))
	fmt.Println(place.Format(p, place.UTM))
	fmt.Println(place.Format(p, place.MGRS))
	_, err := place.Parse("39.0512, -185.6")
	fmt.Println(err)
	// Output:
	// 39.051200, -5.583100
	// 30N 276470 4325634
	// 30STJ7647025634
	// place "39.0512, -185.6" has longitude -185.6, beyond 180; write it between -180 and 180
}
