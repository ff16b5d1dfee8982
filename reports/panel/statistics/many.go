package statistics

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Holm returns the probabilities adjusted for having been looked at together, in their
// order: those at most alpha hold the family-wise size alpha (Holm, Scandinavian Journal
// of Statistics 6:65, 1979).
func Holm(p []float64) []float64 {
	order := make([]int, len(p))
	for i, v := range p {
		checkProbability("p", v)
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	out := make([]float64, len(p))
	last := 0.0
	for rank, i := range order {
		last = max(last, min(1, float64(len(p)-rank)*p[i]))
		out[i] = last
	}
	return out
}

// Shares is what the counts of several listeners at one level come to: a population of
// listeners, each of whom truly hears a share of the trials and guesses the rest.
type Shares struct {
	N     int
	Total Count
	// P is the exact one-sided probability of so many right in all if everybody guesses.
	P float64
	// Mean is the mean share truly heard, 0 to 1, and Interval its profile-likelihood
	// interval on that scale; Between is the standard deviation of the shares among
	// listeners.
	Mean     float64
	Interval Interval
	Between  float64
	Warnings []string
}

// shareGrid is the number of cells of the scale of shares in the likelihood.
const shareGrid = 100

// PoolCounts estimates the population by maximum likelihood: the probability of a right
// answer is guess + share (1 - guess), and the shares follow a beta distribution, so that
// listeners may differ (after Brockhoff, Food Quality and Preference 14:405, 2003, with
// guessing taken out of the mixture rather than added to it). Counts without trials are
// left out. It returns an error without any trial.
func PoolCounts(counts []Count, guess, level float64) (Shares, error) {
	checkProbability("guess", guess)
	s := Shares{Interval: Interval{Level: level}}
	var used []Count
	for _, c := range counts {
		c.check()
		if c.Trials > 0 {
			used = append(used, c)
			s.Total.Right += c.Right
			s.Total.Trials += c.Trials
		}
	}
	if s.N = len(used); s.N == 0 {
		return s, fmt.Errorf("statistics: no trials to pool")
	}
	if s.N < MinimumListeners {
		s.Warnings = append(s.Warnings, fmt.Sprintf("%d of the %d listeners that ITU-R BS.1116-3 asks for", s.N, MinimumListeners))
	}
	s.P = s.Total.PValue(guess)
	likelihoods := make([][]float64, s.N)
	for i, c := range used {
		likelihoods[i] = shareLikelihoods(c, guess)
	}
	profile := make([]float64, shareGrid+1)
	best, spread := math.Inf(-1), 0.0
	for i := range profile {
		profile[i] = math.Inf(-1)
		mean := float64(i) / shareGrid
		for _, population := range populations()[i] {
			l := 0.0
			for _, likelihood := range likelihoods {
				l += math.Log(max(floats.Dot(population.mass, likelihood), 1e-300))
			}
			profile[i] = max(profile[i], l)
			if l > best {
				best, s.Mean, spread = l, mean, math.Sqrt(population.correlation*mean*(1-mean))
			}
		}
	}
	s.Between = spread
	if s.N == 1 {
		s.Between = math.NaN()
	}
	cut := best - distuv.ChiSquared{K: 1}.Quantile(level)/2
	first := slices.IndexFunc(profile, func(l float64) bool { return l >= cut })
	last := len(profile) - 1
	for profile[last] < cut {
		last--
	}
	s.Interval.Lo, s.Interval.Hi = max(0, float64(first)-0.5)/shareGrid, min(shareGrid, float64(last)+0.5)/shareGrid
	return s, nil
}

// A population is a beta distribution of shares, as the masses of the cells.
type population struct {
	correlation float64 // variance over its maximum, mean (1 - mean)
	mass        []float64
}

// correlations are the spreads tried.
var correlations = []float64{0, .01, .02, .04, .07, .11, .16, .22, .3, .4, .5, .6, .7, .8}

// populations are those of each mean tried, made when they are first asked for.
var populations = sync.OnceValue(func() [][]population {
	all := make([][]population, shareGrid+1)
	for i := range all {
		for _, rho := range correlations {
			if (i == 0 || i == shareGrid) && rho > 0 {
				continue // nobody differs at the ends of the scale
			}
			all[i] = append(all[i], newPopulation(float64(i)/shareGrid, rho))
		}
	}
	return all
})

func newPopulation(mean, rho float64) population {
	p := population{rho, make([]float64, shareGrid+1)}
	if rho == 0 {
		p.mass[int(math.Round(mean*shareGrid))] = 1
		return p
	}
	a, b := mean*(1/rho-1), (1-mean)*(1/rho-1)
	last := 0.0
	for i := range p.mass {
		up := 1.0
		if i < shareGrid {
			up = mathext.RegIncBeta(a, b, (float64(i)+.5)/shareGrid)
		}
		p.mass[i], last = up-last, up
	}
	return p
}

// shareLikelihoods is the likelihood of a count at each share, re its maximum.
func shareLikelihoods(c Count, guess float64) []float64 {
	out := make([]float64, shareGrid+1)
	for i := range out {
		p := min(max(Discriminated(guess, float64(i)/shareGrid), 1e-9), 1-1e-9)
		out[i] = float64(c.Right)*math.Log(p) + float64(c.Trials-c.Right)*math.Log1p(-p)
	}
	most := slices.Max(out)
	for i := range out {
		out[i] = math.Exp(out[i] - most)
	}
	return out
}
