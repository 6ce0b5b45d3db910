package flow_test

import (
	"fmt"

	"dwellbook/internal/flow"
)

// Saline from a bag a metre up, through a standard set and a needle-free
// connector. A flow printed on the pack, where the hospital has entered one, says
// more than a typical bore.
func ExampleThrough() {
	pink, err := flow.NewCannula(flow.Size{Gauge: 20, Rated: 61})
	if err != nil {
		fmt.Println(err)
		return
	}
	answer, err := flow.Through(pink, flow.Conditions{
		Fluid: flow.Saline, Temperature: 22, Head: 100, Vein: 8, Tubing: flow.StandardTubing, Connector: true,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	a := answer.Rounded()
	fmt.Printf("%v mL/min, %v to %v; most of the pressure goes to the %v\n", a.Flow, a.Lower, a.Upper, a.Limits())
	// Output: 50 mL/min, 34 to 61; most of the pressure goes to the cannula
}
