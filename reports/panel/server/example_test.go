package server_test

import (
	"fmt"

	"quietcross/reports/panel/server"
)

// A fixed-level test states its power before the first trial.
func ExampleSettings_Plan() {
	s := server.Defaults(server.Triangle)
	plan, power := s.Plan()
	fmt.Printf("%d trials, %d right are significant, power %.2f\n", plan.Trials, plan.Critical, power)
	// Output: 24 trials, 13 right are significant, power 0.93
}
