package statistics_test

import (
	"fmt"

	"quietcross/reports/panel/statistics"
)

func ExampleJudge() {
	ability := statistics.Discriminated(statistics.GuessThree, 0.5)
	v := statistics.Judge(statistics.Count{Right: 5, Trials: 9}, statistics.GuessThree, 0.05, ability, 0.8)
	fmt.Printf("%v: %d of %d right, power %.2f\n", v.Outcome, v.Count.Right, v.Count.Trials, v.Power)
	// Output: not above chance, and too few trials to tell: 5 of 9 right, power 0.65
}

func ExampleMinimumTrials() {
	plan, _ := statistics.MinimumTrials(statistics.GuessThree, statistics.Discriminated(statistics.GuessThree, 0.5), 0.05, 0.8)
	fmt.Printf("%d trials, %d right\n", plan.Trials, plan.Critical)
	// Output: 16 trials, 9 right
}

func ExampleStaircase() {
	s := statistics.NewStaircase(statistics.Rule{Down: 2, Start: -30, Step: 2})
	for _, right := range []bool{true, true, true, true, false, true, true, false} {
		s.Answer(right)
	}
	fmt.Println(s.Level(), s.Reversals())
	// Output: -32 [{5 -34} {7 -32} {8 -34}]
}
