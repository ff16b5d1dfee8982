package main

import (
	"os"

	"github.com/urfave/cli/v2"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// The conditions of every prediction of what is heard: playback level, room, listener.

func playbackFlag() cli.Flag {
	return &cli.Float64Flag{Name: "playback", Value: float64(hearing.DefaultSPL), Usage: "for predictions: level of a full-scale sine at the listener, `DB` SPL"}
}

// listeningFlags are those of a command that predicts what is heard.
func listeningFlags() []cli.Flag {
	return []cli.Flag{
		playbackFlag(),
		&cli.Float64Flag{Name: "room", Value: hearing.DefaultRoomNR, Usage: "for predictions: noise rating of the room, `NR` 0 (silence) to 60"},
		&cli.StringFlag{Name: "listener", Usage: "predict for the listener of `FILE`, as panel result wrote it (default: the listener of published thresholds)"},
	}
}

// parseListening reads the flags of [listeningFlags].
func parseListening(c *cli.Context) (hearing.Conditions, error) {
	heard := hearing.Conditions{Playback: level.DB(c.Float64("playback")), RoomNR: c.Float64("room")}
	if err := heard.Check(); err != nil {
		return heard, usagef(c, "--playback, --room: %w", err)
	}
	if !c.IsSet("listener") {
		return heard, nil
	}
	profile, err := readListener(c.String("listener"))
	heard.Listener = profile.Efficiency
	return heard, err
}

// readListener reads a listener file.
func readListener(path string) (hearing.Profile, error) {
	f, err := os.Open(path)
	if err != nil {
		return hearing.Profile{}, err
	}
	defer f.Close()
	return hearing.ReadProfile(f, path)
}
