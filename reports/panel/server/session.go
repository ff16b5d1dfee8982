package server

import (
	"time"

	"quietcross/dsp/level"
)

// Session is one listener's run through one material.
type Session struct {
	ID       int64
	Token    string // secret of the listener's browser
	Code     string // what the listener is called in results
	Name     string // only where the panel asks for names
	Material string
	// Stimulus is the hash of all that made the clips: stage, drive, matching, solver
	// and the material's own samples. Answers are compared with predictions for that.
	Stimulus string
	Settings Settings
	// Listener counts the listeners of a plan from 1 and Part this listener's
	// materials; 0 without a plan.
	Listener, Part int
	// Lo and Hi are the residuals in decibels between which stimuli are placed.
	Lo, Hi float64
	Seed   uint64 // places the catch trials; never leaves the server
	// Conditions of the set, as given to the server.
	Title, SetHash, Version string
	SetSeed                 uint64
	// Conditions of the listener.
	Device string   // loudspeaker or headphones, as typed
	Room   string   // as typed
	SPL    *float64 // level of the reference noise, dB(A)
	// Matched is how SPL is known: "meter", "voice" (matched by ear), "" not at all.
	Matched    string
	NoiseHeard float64 // longest time for which the noise was played at once, s
	// Playback is the level of a full-scale sine of the set's files, dB SPL; nil when SPL
	// is not known.
	Playback *level.DB
	// Gain was applied to all clips of the set alike, and Dither is the level of the
	// clips' dither re the reference; nil in files of version 1.
	Gain       level.DB
	Dither     *level.DB
	ClipRate   int // rate of the clips, hertz
	PlayedRate int // rate of the browser's audio, hertz; 0 before it is known
	DeviceRate int // rate that the audio device asked for, hertz; 0 if unknown
	Consented  time.Time
	Begun      time.Time
	LevelSet   time.Time // zero before the level set-up is done
	Finished   time.Time // zero before the last answer
}

// Resampled reports whether the browser changed the rate on the way.
func (s *Session) Resampled() bool {
	return s.PlayedRate != 0 && (s.PlayedRate != s.ClipRate || s.DeviceRate != 0 && s.DeviceRate != s.ClipRate)
}

// Kind says what a trial is for.
type Kind string

const (
	Practice   Kind = "practice"    // answer shown, not counted
	Test       Kind = "test"        // counted
	CatchLarge Kind = "catch-large" // the largest difference there is
	CatchNull  Kind = "catch-null"  // three equal intervals
	GradedKind Kind = "graded"      // a round of grades
	GradedTry  Kind = "graded-try"  // a round of grades for practice, not counted
)

// Role says what an item of a trial is.
type Role string

const (
	Reference Role = "reference"  // the ideal stage; in a graded round the open one
	Rendered  Role = "rendered"   // the stage at a rung
	Hidden    Role = "hidden"     // graded: the reference among the items
	Anchor    Role = "anchor"     // graded: the low anchor, the largest difference
	MidAnchor Role = "mid-anchor" // graded: at three quarters of the range
)

// Item is one clip of a trial.
type Item struct {
	Position int    // 1, 2, 3 …; 0 is a graded round's open reference
	Token    string // name of the clip on the page
	Seed     uint64 // of its dither
	Role     Role
	Rung     Rung // zero for a reference
	Grade    *float64
}

// Trial is one presented trial.
type Trial struct {
	ID       int64
	Session  int64
	Number   int    // from 1 within the session
	Token    string // name of the trial on the page
	Kind     Kind
	Target   float64 // residual asked for, decibels
	Rung     Rung    // what was rendered; zero for a null trial and a graded round
	Odd      int     // position of the odd one; 0 in a graded round
	Choice   int     // position answered; 0 before the answer and in a graded round
	Started  time.Time
	Answered time.Time // zero before the answer is final
	Items    []Item
	Heard    []float64 // seconds for which each item was heard, by position
	Switches int       // how often the listener went from one to another
}

// graded reports whether the trial asks for grades.
func (t *Trial) graded() bool { return t.Kind == GradedKind || t.Kind == GradedTry }

// triple reports whether one item is graded beside the hidden reference; see [Graded].
func (t *Trial) triple() bool { return t.graded() && len(t.Items) == 3 }

// Right reports whether the odd one was named.
func (t *Trial) Right() bool { return t.Choice != 0 && t.Choice == t.Odd }

// Open reports whether the trial still waits for its answer.
func (t *Trial) Open() bool { return t.Answered.IsZero() }
