package signal

// speechPhrase is a breath of nonsense syllables. A colon draws the sound
// before it out, a stress mark ' lifts the next vowel.
type speechPhrase struct {
	at    float64 // seconds
	level float64 // dB
	text  string
	pitch curve // hertz, from the phrase's start
}

var speechPhrases = []speechPhrase{
	{0.5, 0, "lom'ise: dawun'e:", curve{{0, 112}, {0.3, 126}, {0.9, 108}, {1.2, 118}, {1.8, 92}}},
	{2.9, -3, "n'uxapi: ket'ola zen'a:", curve{{0, 120}, {0.15, 128}, {0.8, 106}, {1.3, 117}, {1.7, 101}, {2.4, 86}}},
	{6.0, -7, "hamul'o: fisa:", curve{{0, 108}, {0.6, 115}, {1.0, 98}, {1.7, 82}}},
}

// spoken is a phoneme at its place in time.
type spoken struct {
	phoneme
	from, to float64 // seconds
}

// place returns the phrase's phonemes with their times. Lengths vary a little.
func (p speechPhrase) place() []spoken {
	hand := played("speech " + p.text)
	var out []spoken
	t, stress := p.at, false
	for _, r := range p.text {
		ph, known := phonemes[r]
		switch {
		case r == '\'':
			stress = true
		case r == ':':
			last := &out[len(out)-1]
			last.to += 0.16
			t = last.to
		case known:
			length := ph.seconds * hand.around(1, 0.08)
			if stress && ph.voice > 0.8 {
				length, ph.voice, stress = 1.25*length, 1.25*ph.voice, false
			}
			out = append(out, spoken{ph, t, t + length})
			t += length
		}
	}
	for i := range out[:len(out)-1] {
		if out[i].formants[0] == 0 { // h is the next vowel, whispered
			out[i].formants = out[i+1].formants
		}
	}
	return out
}

// playSpeech performs the phrases close to a microphone in a quiet room.
func playSpeech(n int, seed uint64) [][]float64 {
	x := make([]float64, n)
	hand, breath, teeth := played("speech"), throw(seed, "speech breath"), throw(seed, "speech hiss")
	for _, p := range speechPhrases {
		p.speak(x, hand, breath, teeth)
	}
	study := room{decay: 0.35, high: 0.25, predelay: 0.004, wet: 0.012}
	return [][]float64{study.reverberate(x, played("speech room"))}
}

// speak adds the phrase to x.
func (p speechPhrase) speak(x []float64, hand, breath, teeth dice) {
	sounds := p.place()
	loud := decibels(p.level)
	voice := newVoice(hand, breath)
	first, last := frame(p.at), frame(sounds[len(sounds)-1].to+0.3)
	waver := hand.wander(last-first, 5)
	for i, w := range waver {
		t := seconds(first + i)
		pitch := p.pitch.value(t-p.at) * (1 + 0.012*w)
		x[first+i] += loud * voice.step(pitch, soundAt(sounds, t))
	}
	for _, s := range sounds {
		s.hiss.add(x[frame(s.from):], loud, teeth)
	}
}

// soundAt returns the phoneme at time t, or silence in the shape of the last.
func soundAt(sounds []spoken, t float64) phoneme {
	for _, s := range sounds {
		if t < s.to {
			return s.phoneme
		}
	}
	rest := sounds[len(sounds)-1].phoneme
	rest.voice, rest.breath = 0, 0
	return rest
}
