#!/usr/bin/env python3
"""Recomputes the fit that fit_test.go expects, by a method of its own.

The data are invented for this test. The likelihood is maximised by golden sections
nested in one another, one a parameter, in plain floating point and without
derivatives: slow, and with nothing in common with the program's way but the model,

    p(x) = guess + (1 - guess - lapse) / (1 + exp(-(x - location) / scale)).

Run: python3 fit.py
"""
from math import exp, log, sqrt

LEVELS = [-8, -5, -2, 1, 4, 7]
RIGHT = [22, 28, 31, 41, 40, 41]
TRIALS = 42
GUESS = 0.5
GOLDEN = (sqrt(5) - 1) / 2


def loss(location, scale, lapse):
    """The negative log likelihood, without the binomial coefficients."""
    total = 0.0
    for x, right in zip(LEVELS, RIGHT):
        p = GUESS + (1 - GUESS - lapse) / (1 + exp(-(x - location) / scale))
        total -= right * log(p)
        if right < TRIALS:
            total -= (TRIALS - right) * log(1 - p)
    return total


def golden(f, lo, hi, rounds):
    """The place and the value of the minimum of f, which has one between lo and hi."""
    a, b = hi - GOLDEN * (hi - lo), lo + GOLDEN * (hi - lo)
    fa, fb = f(a), f(b)
    for _ in range(rounds):
        if fa < fb:
            hi, b, fb = b, a, fa
            a = hi - GOLDEN * (hi - lo)
            fa = f(a)
        else:
            lo, a, fa = a, b, fb
            b = lo + GOLDEN * (hi - lo)
            fb = f(b)
    x = (lo + hi) / 2
    return x, f(x)


def best_lapse(location, scale):
    return golden(lambda lapse: loss(location, scale, lapse), 1e-12, 0.1, 60)


def best_scale(location):
    return golden(lambda scale: best_lapse(location, scale)[1], 0.1, 10, 60)


location, low = golden(lambda location: best_scale(location)[1], -8, 7, 60)
scale, _ = best_scale(location)
lapse, _ = best_lapse(location, scale)
saturated = -sum(
    r * log(r / TRIALS) + ((TRIALS - r) * log(1 - r / TRIALS) if r < TRIALS else 0) for r in RIGHT
)
print(f"location {location:.7f}  scale {scale:.7f}  lapse {lapse:.8f}  deviance {2 * (low - saturated):.7f}")
