package signal

// pieces returns the music, noise and speech.
func pieces() []Material {
	return []Material{
		{
			Name: "struck-string", Title: "Struck strings, dying away",
			Shows:   "a long decay through the crossover: the note is clean when struck and turns rough as it fades",
			Seconds: 14, Channels: 1, Peak: -3, generate: record(playStruck),
		},
	}
}
