package signal

// pieces returns the music, noise and speech.
func pieces() []Material {
	return []Material{
		{
			Name: "struck-string", Title: "Struck strings, dying away",
			Shows:   "a long decay through the crossover: the note is clean when struck and turns rough as it fades",
			Seconds: 14, Channels: 1, Peak: -3, generate: record(playStruck),
		},
		{
			Name: "plucked-string", Title: "Plucked strings, left to ring",
			Shows:   "sharp onsets over sustained strings: a rough edge between the notes, and on the last ones",
			Seconds: 13, Channels: 1, Peak: -3, generate: record(playPlucked),
		},
		{
			Name: "soft-wind", Title: "A soft blown melody",
			Shows:   "the hardest case: few partials, quiet and sustained, so that nothing hides the added ones",
			Seconds: 13, Channels: 1, Peak: -6, generate: record(playWind),
		},
		{
			Name: "quiet-chord", Title: "A quiet chord and its room",
			Shows: "a chord swelling, fading and leaving its reverberation (2.4 s to -60 dB) to fall into silence: " +
				"the tail turns gritty, then stops short",
			Seconds: 14, Channels: 2, Peak: -6, generate: record(playChord),
		},
		{
			Name: "brushed-drum", Title: "Brushes on a drum",
			Shows:   "noise hides much: how far a dense sound masks what a sustained one lays bare, and how its fade thins out",
			Seconds: 13, Channels: 1, Peak: -3, generate: record(playBrush),
		},
		{
			Name: "soft-speech", Title: "Soft speech in nonsense syllables",
			Shows:   "vowels, consonants and pauses: soft sounds next to loud ones, and the ends of phrases dropping away",
			Seconds: 10, Channels: 1, Peak: -3, generate: record(playSpeech),
		},
	}
}
