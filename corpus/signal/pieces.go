package signal

import "quietcross/dsp/distortion"

// pieces returns the music, noise and speech. Their gains are set so that each
// has the same loudness, and one listening level serves all.
func pieces() []Material {
	return []Material{
		piece("struck-string", "Struck strings, dying away", 14, 1, record(-6.2, playStruck),
			"a long decay through the crossover: the note is clean when struck and turns rough as it fades"),
		piece("plucked-string", "Plucked strings, left to ring", 13, 1, record(9.8, playPlucked),
			"sharp onsets over sustained strings: a rough edge between the notes, and on the last ones"),
		piece("soft-wind", "A soft blown melody", 13, 1, record(-10.1, playWind),
			"the hardest case: few partials, quiet and sustained, so that nothing hides the added ones"),
		piece("quiet-chord", "A quiet chord and its room", 12, 2, record(-26.9, playChord),
			"a chord swelling, fading and leaving its reverberation (2.4 s to -60 dB) to fall into silence: "+
				"the tail turns gritty, then stops short"),
		piece("brushed-drum", "Brushes on a drum", 13, 1, record(-4.85, playBrush),
			"noise hides much: how far a dense sound masks what a sustained one lays bare, and how its fade thins out"),
		piece("soft-speech", "Soft speech in nonsense syllables", 9, 1, record(-15.05, playSpeech),
			"vowels, consonants and pauses: soft sounds next to loud ones, and the ends of phrases dropping away"),
	}
}

func piece(name, title string, seconds float64, channels int, play generator, shows string) Material {
	return Material{
		Name: name, Title: title, Shows: shows, Kind: distortion.Programme,
		Seconds: seconds, Channels: channels,
		Peak: piecePeak, Loudness: pieceLoudness, generate: play,
	}
}
