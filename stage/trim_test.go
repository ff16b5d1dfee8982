package stage

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"quietcross/stage/circuits"
	"quietcross/stage/device"
)

// TestTrimmedSpecGivesTheCurrent trims every built-in stage over its default ladder and
// beyond, writes the stage file with the trimmed part, reads it back, and holds the
// current that it has as built against what was asked for.
func TestTrimmedSpecGivesTheCurrent(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		lo, hi, err := s.QuiescentRange()
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %.4g to %.4g A", named.Name, lo, hi)
		for _, ratio := range []float64{1e-3, 0.03, 0.5, 1, 1.7, 3} {
			iq := max(ratio*s.reference(), 1.01*lo)
			b, err := s.Set(Quiescent(iq))
			if err != nil {
				t.Errorf("%s: %v", named.Name, err)
				continue
			}
			relative(t, named.Name+" IQ", b.Point().Quiescent, iq, 1e-9)
			trimmer, ok := b.Trim()
			if !ok {
				if named.Name != "push-pull-dead-zone" || b.Source() != IdealSource {
					t.Errorf("%s: nothing was trimmed: %s", named.Name, b.Source())
				}
				continue
			}
			if _, forced := b.Forced(); b.Source() != TrimmedParts || forced {
				t.Errorf("%s: source %q", named.Name, b.Source())
			}
			t.Logf("%s at %.3g A: %s %s", named.Name, iq, trimmer.Key, fieldText(circuits.Field{Value: &trimmer.Value}))
			own := reread(t, b.Trimmed())
			relative(t, named.Name+" as built", mustSet(t, own, AsBuilt()).Point().Quiescent, iq, 1e-9)
			if again, err := own.Set(Quiescent(iq)); err != nil { // the current that it has already
				t.Errorf("%s, trimmed again: %v", named.Name, err)
			} else {
				relative(t, named.Name+" trimmed again", again.Point().Quiescent, iq, 1e-9)
			}
			if !onlyDiffers(t, s.Spec(), own.Spec(), trimmer) {
				t.Errorf("%s: more than %s was changed", named.Name, trimmer.Key)
			}
		}
	}
}

// reread writes a spec as a stage file and makes a stage of what it reads there.
func reread(t *testing.T, spec Spec) *Stage {
	t.Helper()
	var file bytes.Buffer
	if err := spec.Write(&file); err != nil {
		t.Fatal(err)
	}
	read, err := Read(&file, "trimmed")
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(read)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// onlyDiffers reports whether two specs differ in a trimmer's value alone and have it.
func onlyDiffers(t *testing.T, was, is Spec, trimmer circuits.Trimmer) bool {
	t.Helper()
	kind, err := circuits.Lookup(was.Circuit)
	if err != nil {
		t.Fatal(err)
	}
	var changed []string
	before, after := kind.Groups(&was.Parts), kind.Groups(&is.Parts)
	for i, g := range before {
		for j, f := range g.Fields {
			if a, b := fieldText(f), fieldText(after[i].Fields[j]); a != b {
				changed = append(changed, g.Name+"."+f.Key)
			}
			if key := g.Name + "." + f.Key; key == trimmer.Key && *after[i].Fields[j].Value.(*float64) != trimmer.Value {
				t.Errorf("%s: %s in the spec, %g said", key, fieldText(after[i].Fields[j]), trimmer.Value)
			}
		}
	}
	return slices.Equal(changed, []string{trimmer.Key}) || len(changed) == 0
}

// TestTrimIsContinuous checks that a string of diodes is trimmed below and above what
// its diodes give alone and next to it, the part's value moving toward no trimmer from
// both sides.
func TestTrimIsContinuous(t *testing.T) {
	s := mustStage(t, "pair-12w", nil)
	alone := mustSet(t, s, AsBuilt()).Point().Quiescent
	for _, row := range []struct {
		ratio, least, most float64
		key                string
	}{
		{0.01, 1, 30, "bias.trimmer_across"},
		{0.9, 100, 1e3, "bias.trimmer_across"},
		{1 - 1e-6, 1e7, 1e9, "bias.trimmer_across"},
		{1 + 1e-6, 1e-9, 1e-5, "bias.trimmer_series"},
		{1.1, 1e-2, 1, "bias.trimmer_series"},
		{10, 1, 30, "bias.trimmer_series"},
	} {
		b := mustSet(t, s, Quiescent(row.ratio*alone))
		trimmer, _ := b.Trim()
		if trimmer.Key != row.key || !(trimmer.Value > row.least && trimmer.Value < row.most) {
			t.Errorf("%g times the current of the diodes alone: %+v", row.ratio, trimmer)
		}
		relative(t, "IQ", b.Point().Quiescent, row.ratio*alone, 1e-9)
		if math.Abs(b.Point().Output) > 1e-9 {
			t.Errorf("%g times: a matched pair has %g V at the output", row.ratio, b.Point().Output)
		}
	}
	again := mustSet(t, s, Quiescent(alone))
	if trimmer, ok := again.Trim(); !ok || trimmer.Value < 1e9 && trimmer.Value > 1e-8 {
		t.Errorf("the current as built is trimmed by %+v", trimmer)
	}
}

// TestSeriesTrimmerClosedForm checks the trimmer in series with a string of ideal
// diodes: between the bases of an ideal pair stand 2 (VT ln(IQ/IS + 1) + IQ RE) by the
// junction law, and the diodes' share of that at the feed current I is
// 2 VT ln(I/ISD + 1), so that the trimmer has the rest over I. No base draws current.
func TestSeriesTrimmerClosedForm(t *testing.T) {
	s := mustStage(t, "pair-12w", func(s *Spec) {
		ideal(s)
		s.Diode.Ohms = 0
	})
	spec := s.Spec()
	vt := device.ThermalVoltage(spec.Thermal.Ambient)
	for _, iq := range []float64{0.05, 0.2, 0.5} {
		vbb := 2 * (vt*math.Log1p(iq/spec.Upper.Saturation) + iq*spec.Emitter.Ohms)
		feed := (spec.Supply.Positive - vbb/2) / spec.Bias.FeedUpper
		want := (vbb - 2*vt*math.Log1p(feed/spec.Diode.Saturation)) / feed
		b := mustSet(t, s, Quiescent(iq))
		trimmer, _ := b.Trim()
		relative(t, "series trimmer", trimmer.Value, want, 1e-6)
		relative(t, "bias", b.Point().Bias, vbb, 1e-9)
	}
}

// TestAcrossTrimmerClosedForm checks the trimmer across the same string: it takes what
// of the feed current the diodes do not at the wanted voltage.
func TestAcrossTrimmerClosedForm(t *testing.T) {
	s := mustStage(t, "pair-12w", func(s *Spec) {
		ideal(s)
		s.Diode.Ohms = 0
	})
	spec := s.Spec()
	vt := device.ThermalVoltage(spec.Thermal.Ambient)
	for _, iq := range []float64{1e-6, 1e-3, 0.01} {
		vbb := 2 * (vt*math.Log1p(iq/spec.Upper.Saturation) + iq*spec.Emitter.Ohms)
		feed := (spec.Supply.Positive - vbb/2) / spec.Bias.FeedUpper
		want := vbb / (feed - spec.Diode.Saturation*math.Expm1(vbb/2/vt))
		trimmer, _ := mustSet(t, s, Quiescent(iq)).Trim()
		if trimmer.Key != "bias.trimmer_across" {
			t.Fatalf("%+v", trimmer)
		}
		relative(t, "trimmer across", trimmer.Value, want, 1e-6)
	}
}

// TestMultiplierClosedForm checks the trimmed resistor of a VBE multiplier whose
// transistor has a very high gain: V = VBE (1 + top/bottom) (Sedra and Smith,
// Microelectronic Circuits, biasing by the VBE multiplier; form from memory), with
// VBE = VT ln(IC/IS) at what of the feed current the divider leaves.
func TestMultiplierClosedForm(t *testing.T) {
	s := mustStage(t, "pair-12w-multiplier", func(s *Spec) {
		ideal(s)
		m := &s.Multiplier.Device
		m.ForwardGain, m.Early, m.Knee, m.Leakage, m.EmitterOhms, m.CollectorOhms = 0, 0, 0, 0, 0, 0
	})
	spec := s.Spec()
	m := spec.Multiplier
	vt := device.ThermalVoltage(spec.Thermal.Ambient)
	for _, iq := range []float64{1e-4, 0.02, 0.3} {
		vbb := 2 * (vt*math.Log1p(iq/spec.Upper.Saturation) + iq*spec.Emitter.Ohms)
		feed := (spec.Supply.Positive - vbb/2) / spec.Bias.FeedUpper
		vbe := 0.65
		for range 50 { // IC is the feed current less that in top, (V - VBE)/top
			vbe = vt * math.Log1p((feed-(vbb-vbe)/m.Top)/m.Device.Saturation)
		}
		want := m.Top / (vbb/vbe - 1)
		trimmer, _ := mustSet(t, s, Quiescent(iq)).Trim()
		if trimmer.Key != "multiplier.bottom" {
			t.Fatalf("%+v", trimmer)
		}
		relative(t, "bottom", trimmer.Value, want, 1e-6)
	}
}

// TestDiodeBiasOfNeamen checks the diode bias of Neamen, Microelectronics (class AB
// output stage with diode biasing; answers computed from its equations): a quiescent
// current of 4 mA with output devices of IS 2e-15 A asks for VBB = 1.4729 V, which two
// diodes of IS 4e-16 A give at 0.8 mA, VT 26 mV. With feeds that bring just that
// current the diodes are to need no trimmer, and with feeds that bring half of it a
// series trimmer that drops VT ln(2) in each half.
func TestDiodeBiasOfNeamen(t *testing.T) {
	const vt, vbb, bias = 0.026, 1.4729, 0.8e-3
	change := func(feed float64) *Stage {
		return mustStage(t, "pair-12w", func(s *Spec) {
			ideal(s)
			kelvin := vt / device.ThermalVoltage(1)
			s.Thermal.Ambient = kelvin
			s.Upper.Exponent, s.Lower.Exponent, s.Diode.Exponent = 0, 0, 0
			// The laws hold at 25 C; at 28.6 C the saturation currents are to be the book's.
			grown := device.Junction{Saturation: 1, Emission: 1, Gap: s.Upper.Gap, Reference: device.RoomKelvin}.SaturationAt(kelvin)
			s.Upper.Saturation, s.Lower.Saturation = 2e-15/grown, 2e-15/grown
			s.Diode.Saturation, s.Diode.Ohms = 4e-16/grown, 0
			s.Emitter.Ohms = 0
			s.Bias.FeedUpper, s.Bias.FeedLower = feed, feed
		})
	}
	half := vbb / 2
	s := change((mustStage(t, "pair-12w", nil).Spec().Supply.Positive - half) / bias)
	p := mustSet(t, s, AsBuilt()).Point()
	relative(t, "bias of the diodes alone", p.Bias, vbb, 5e-5)
	relative(t, "their quiescent current", p.Quiescent, 4e-3, 2e-3) // the book rounds VBB to 0.1 mV

	weak := change((s.Spec().Supply.Positive - half) / (bias / 2))
	trimmer, _ := mustSet(t, weak, Quiescent(4e-3)).Trim()
	if trimmer.Key != "bias.trimmer_series" {
		t.Fatalf("%+v", trimmer)
	}
	relative(t, "trimmer", trimmer.Value, 2*vt*math.Ln2/(bias/2), 1e-3)
}

// TestTapResistorClosedForm checks the trimmed resistor of a transistor behind a
// capacitor: IB = IC/beta through it from the supply less VBE (Boylestad and Nashelsky,
// Electronic Devices and Circuit Theory, fixed bias).
func TestTapResistorClosedForm(t *testing.T) {
	const gain = 80.0
	s := mustStage(t, "single-capacitor", func(s *Spec) {
		ideal(s)
		s.Upper.ForwardGain, s.Upper.GainExponent, s.Upper.BaseOhms, s.Emitter.Ohms = gain, 0, 1e-3, 0
	})
	spec := s.Spec()
	iq := 0.05
	vbe := device.ThermalVoltage(spec.Thermal.Ambient) * math.Log1p(iq/spec.Upper.Saturation)
	trimmer, _ := mustSet(t, s, Quiescent(iq)).Trim()
	if trimmer.Key != "bias.upper" {
		t.Fatalf("%+v", trimmer)
	}
	relative(t, "resistor", trimmer.Value, (spec.Supply.Positive-vbe)*gain/iq, 1e-6)
}

// TestTrimmedPartsStarve holds a trimmed pair at full swing against its own equation,
// as TestStarvedFeed does as built: the trimmer brings no current when the upper diodes
// have stopped conducting, so the starved maximum of the output is that of the feed.
func TestTrimmedPartsStarve(t *testing.T) {
	const gain = 100
	s := mustStage(t, "pair-12w", func(s *Spec) {
		ideal(s)
		s.Upper.ForwardGain, s.Lower.ForwardGain = gain, gain
		s.Upper.BaseOhms, s.Lower.BaseOhms = 1e-3, 1e-3
	})
	at := func(setting Setting) float64 {
		b := mustSet(t, s, setting)
		_, hi := b.Clip()
		out, _, err := b.Transfer(hi + 2)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	built := at(AsBuilt())
	relative(t, "starved output, trimmed", at(Quiescent(0.2)), built, 1e-3)
	if held := at(Held(0.2)); held < 1.05*built {
		t.Errorf("a held bias starves too: %g V, as built %g V", held, built)
	}
}

// TestTrimmedBiasTracks checks how a trimmed bias follows temperature. Two diodes at a
// constant current fall by dV/dT = 2 (V - EG - 3 VT)/T with V each, the closed form of
// the junction law (also in Sze, Physics of Semiconductor Devices; form from memory); a
// trimmer in series has no part in that, so the whole bias falls by as much, where an
// ideal source holds.
func TestTrimmedBiasTracks(t *testing.T) {
	s := mustStage(t, "pair-12w", func(s *Spec) {
		ideal(s)
		s.Diode.Ohms = 0
	})
	spec := s.Spec()
	air := spec.Thermal.Ambient
	hot := circuits.Uniform(air)
	const rise = 0.1
	hot.Bias += rise
	slope := func(setting Setting) float64 {
		return (mustSet(t, s.At(hot), setting).Point().Bias - mustSet(t, s, setting).Point().Bias) / rise
	}
	setting := Quiescent(0.2)
	trimmer, _ := mustSet(t, s, setting).Trim()
	b := mustSet(t, s, setting).Point()
	feed := (spec.Supply.Positive - b.Bias/2) / spec.Bias.FeedUpper
	diode := (b.Bias - feed*trimmer.Value) / 2
	vt := device.ThermalVoltage(air)
	each := (diode - spec.Diode.Gap - 3*vt) / air
	// As the diodes fall the feeds bring more: the string's slope resistance, 2 VT/I
	// and the trimmer, divides the fall with the feeds'.
	string := 2*vt/feed + trimmer.Value
	want := 2 * each / (1 + string/(2*spec.Bias.FeedUpper))
	relative(t, "fall of the bias", slope(setting), want, 2e-3)
	if held := slope(Held(0.2)); held != 0 {
		t.Errorf("an ideal source moves by %g V/K", held)
	}
}

// TestTrimmedMultiplierTracks checks how a trimmed VBE multiplier follows temperature: its
// voltage is VBE (1 + top/bottom), so it falls by that multiple of its transistor's
// dVBE/dT = (VBE - EG - 3 VT)/T at a constant current. As it falls the feeds bring more and
// the divider takes less: dIC = -dV/(2 feed) - dVBE/bottom, which raises VBE by VT/IC of it.
func TestTrimmedMultiplierTracks(t *testing.T) {
	s := mustStage(t, "pair-12w-multiplier", func(s *Spec) {
		ideal(s)
		m := &s.Multiplier.Device
		m.ForwardGain, m.Early, m.Knee, m.Leakage, m.EmitterOhms, m.CollectorOhms = 0, 0, 0, 0, 0, 0
	})
	spec := s.Spec()
	air, vt := spec.Thermal.Ambient, device.ThermalVoltage(spec.Thermal.Ambient)
	hot := circuits.Uniform(air)
	const rise = 0.1
	hot.Bias += rise
	for _, iq := range []float64{1e-3, 0.1} {
		setting := Quiescent(iq)
		cold := mustSet(t, s, setting)
		trimmer, _ := cold.Trim()
		multiple := 1 + spec.Multiplier.Top/trimmer.Value
		vbe := cold.Point().Bias / multiple
		current := cold.Point().Devices[2].Current
		each := (vbe - spec.Multiplier.Device.Gap - 3*vt) / air
		want := multiple * each / (1 + vt/current*(multiple/(2*spec.Bias.FeedUpper)+1/trimmer.Value))
		relative(t, "fall of the bias", (mustSet(t, s.At(hot), setting).Point().Bias-cold.Point().Bias)/rise, want, 2e-3)
	}
}

// TestWarmSettings checks that a warm setting has its current when the stage has
// settled, and that its cold current is what settling calls cold.
func TestWarmSettings(t *testing.T) {
	for _, name := range []string{"pair-12w", "pair-12w-multiplier", "darlington-30w", "fet-30w", "single-class-a", "push-pull-divider", "push-pull-dead-zone"} {
		s := mustStage(t, name, nil)
		iq := s.reference() / 2
		if name == "single-class-a" {
			iq = mustSet(t, s, AsBuilt()).Point().Quiescent
		}
		for _, setting := range []Setting{Quiescent(iq).Warm(), Quiescent(iq)} {
			settled, err := s.Settle(setting, 0)
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			got := settled.Cold
			if setting.IsWarm() {
				got = settled.Hot
			}
			relative(t, name+" "+setting.String(), got, iq, 2e-6)
			relative(t, name+" cold", mustSet(t, s, setting).Point().Quiescent, settled.Cold, 1e-9)
			t.Logf("%s, %v: %.4g A cold, %.4g A warm at %.1f K", name, setting, settled.Cold, settled.Hot, settled.Hottest())
		}
	}
}

// TestSettingsByName checks that mode and value make the setting again, and its text.
func TestSettingsByName(t *testing.T) {
	for setting, text := range map[Setting]string{
		AsBuilt(): "as built", AsBuilt().Warm(): "as built",
		Bias(1.2): "bias 1.2V", Bias(1.2).Warm(): "bias 1.2V",
		Quiescent(0.01): "quiescent 10mA, set cold", Quiescent(0.01).Warm(): "quiescent 10mA, set warm",
		Held(0.01): "quiescent 10mA, held, set cold", Held(0.01).Warm(): "quiescent 10mA, held, set warm",
	} {
		if got := setting.String(); got != text {
			t.Errorf("%q, want %q", got, text)
		}
		again, err := SettingOf(setting.Mode(), setting.Value())
		if err != nil || again != setting {
			t.Errorf("%v: mode %q makes %v, %v", setting, setting.Mode(), again, err)
		}
	}
	for _, mode := range []string{"", "bias-warm", "as-built-warm", "idle"} {
		if _, err := SettingOf(mode, 1); err == nil || !strings.Contains(err.Error(), "quiescent") {
			t.Errorf("%q: error %v", mode, err)
		}
	}
}

// The current of the parts as built, to the last digit, is one that they are trimmed to: the
// position is then theirs, though no step of the search passes it.
func TestTrimToAsBuilt(t *testing.T) {
	for _, s := range Builtin() {
		spec, err := Lookup(s.Name)
		if err != nil {
			t.Fatal(err)
		}
		st, err := New(spec)
		if err != nil {
			t.Fatal(err)
		}
		built, err := st.Set(AsBuilt())
		if err != nil || built.Point().Quiescent < 1e-9 { // a leakage that trimming may not reach
			continue
		}
		for _, off := range []float64{0, 1e-12, -1e-12} {
			wanted := built.Point().Quiescent * (1 + off)
			again, err := st.Set(Quiescent(wanted))
			if err != nil {
				t.Errorf("%s, %g A: %v", s.Name, wanted, err)
				continue
			}
			relative(t, s.Name, again.Point().Quiescent, wanted, 1e-9)
		}
	}
}
