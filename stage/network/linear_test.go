package network

import (
	"errors"
	"math"
	"strings"
	"testing"

	"quietcross/stage/device"
)

// TestBridge checks a loaded resistor bridge against the hand solution by
// Thevenin's theorem: 10 V, arms 1k/2k and 3k/1k, 500 ohm across.
func TestBridge(t *testing.T) {
	c := New()
	_, top := c.Drive("top", 10)
	l, r := c.Node("left"), c.Node("right")
	c.Add(Resistor{c.Node("top"), l, 1e3}, Resistor{l, Ground, 2e3})
	c.Add(Resistor{c.Node("top"), r, 3e3}, Resistor{r, Ground, 1e3}, Resistor{l, r, 500})
	s := c.Compile()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	open := 10*2.0/3 - 10*1.0/4
	source := 2e3/3 + 3e3/4
	bridge := open / (source + 500)
	within(t, "bridge current", (s.Voltage(l)-s.Voltage(r))/500, bridge, 1e-15)
	supply := (10-s.Voltage(l))/1e3 + (10-s.Voltage(r))/3e3
	within(t, "supply current", s.Current(top), supply, 1e-15)
	within(t, "dV/dsource", s.Derivative(l, top), s.Voltage(l)/10, 1e-15)
}

// TestSourceSigns checks the directions that the documentation states.
func TestSourceSigns(t *testing.T) {
	c := New()
	a, b := c.Node("a"), c.Node("b")
	volts := c.VoltageSource("battery", a, b, 3)
	amperes := c.CurrentSource("feed", Ground, b, 2)
	c.Add(Resistor{a, Ground, 1}, Resistor{b, Ground, 1})
	s := c.Compile()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	// Va + Vb = 2 and Va - Vb = 3.
	within(t, "Va", s.Voltage(a), 2.5, 1e-14)
	within(t, "Vb", s.Voltage(b), -0.5, 1e-14)
	within(t, "battery", s.Current(volts), 2.5, 1e-14)
	within(t, "feed", s.Current(amperes), 2, 0)
	within(t, "resistance at b", s.Derivative(b, amperes), 0.5, 1e-15)
	within(t, "half from the battery", s.Derivative(b, volts), -0.5, 1e-15)
}

// TestDiodeAndResistor checks a diode behind a resistor against the Lambert W
// solution of T. C. Banwell and A. Jayakumar (Electronics Letters 36(4):291,
// 2000): IS 25 fA, VT 25.7025 mV, 0.9 V.
func TestDiodeAndResistor(t *testing.T) {
	for _, row := range []struct{ ohms, milliamperes float64 }{
		{249.3, 1.08485174}, {51.3, 4.55332377}, {10.3, 19.1002122},
	} {
		for _, inside := range []bool{false, true} {
			c := New()
			source, feed := c.Drive("source", 0.9)
			d := &Diode{Name: "d", Anode: source, Law: device.NewDiode(25e-15, 0.0257025), SeriesOhms: row.ohms}
			if !inside {
				d.Anode, d.SeriesOhms = c.Node("anode"), 0
				c.Add(Resistor{source, d.Anode, row.ohms})
			}
			c.Add(d)
			s := c.Compile()
			if err := s.Solve(); err != nil {
				t.Fatal(err)
			}
			within(t, "current in mA", s.Current(feed)*1e3, row.milliamperes, 5e-9*row.milliamperes)
			within(t, "device current", s.Device(0).Current, s.Current(feed), 1e-15)
		}
	}
}

// TestNoPath checks that a node without a path for direct current is refused by
// name.
func TestNoPath(t *testing.T) {
	c := New()
	c.Drive("rail", 5)
	c.Add(Resistor{c.Node("rail"), Ground, 1}, Resistor{c.Node("left"), c.Node("right"), 1})
	err := c.Compile().Solve()
	if !errors.Is(err, ErrNoPoint) {
		t.Fatalf("error is %v", err)
	}
	if text := err.Error(); !strings.Contains(text, `"left"`) && !strings.Contains(text, `"right"`) {
		t.Errorf("%q names no node", text)
	}
}

// TestContradictingSources checks that two voltage sources in parallel are
// refused.
func TestContradictingSources(t *testing.T) {
	c := New()
	a := c.Node("a")
	c.VoltageSource("one", a, Ground, 1)
	c.VoltageSource("two", a, Ground, 2)
	c.Add(Resistor{a, Ground, 1})
	if err := c.Compile().Solve(); !errors.Is(err, ErrNoPoint) {
		t.Fatalf("error is %v", err)
	}
}

// TestFactorMatchesProduct checks the LU solution of random systems by
// multiplying back.
func TestFactorMatchesProduct(t *testing.T) {
	seed := uint64(1)
	next := func() float64 {
		seed = seed*6364136223846793005 + 1442695040888963407
		return float64(seed>>11)/(1<<52) - 1
	}
	for n := 1; n <= 12; n++ {
		m := newMatrix(n, n+2)
		want := make([]float64, n)
		for i := range want {
			want[i] = next()
			for j := range n {
				m.a[i*m.stride+j] = next()
			}
		}
		b := make([]float64, n)
		for i := range b {
			for j := range n {
				b[i] += m.a[i*m.stride+j] * want[j]
			}
		}
		if m.factor() >= 0 {
			t.Fatalf("order %d: singular", n)
		}
		m.solve(b)
		for i := range b {
			if math.Abs(b[i]-want[i]) > 1e-11 {
				t.Errorf("order %d: element %d is %g, want %g", n, i, b[i], want[i])
			}
		}
	}
}
