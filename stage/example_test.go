package stage_test

import (
	"fmt"

	"quietcross/stage"
)

// A built-in stage, biased by force to its optimum quiescent current.
func Example() {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := stage.New(spec)
	if err != nil {
		fmt.Println(err)
		return
	}
	b, err := s.Set(stage.Quiescent(s.OptimumQuiescent()))
	if err != nil {
		fmt.Println(err)
		return
	}
	out, gain, err := b.Transfer(2)
	if err != nil {
		fmt.Println(err)
		return
	}
	p := b.Point()
	fmt.Printf("%.1f mA at %.3f V of bias\n", p.Quiescent*1e3, p.Bias)
	fmt.Printf("2 V in, %.3f V out, gain %.3f\n", out, gain)
	// Output:
	// 73.4 mA at 1.413 V of bias
	// 2 V in, 1.879 V out, gain 0.934
}

// The same stage unbiased: where its power goes, and which class that is.
func ExampleBiased_Power() {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := stage.New(spec)
	if err != nil {
		fmt.Println(err)
		return
	}
	b, err := s.Set(stage.Bias(0))
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := b.Power(3)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s, %.0f mW into the load\n", p.Class, p.Load*1e3)
	// Output:
	// under-biased, 260 mW into the load
}
