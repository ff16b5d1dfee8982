#!/usr/bin/env python3
"""Recomputes the table of TestDistortionGrid: the total harmonic distortion of an
exponential pair with emitter resistors, from its equations

    VT ln(iN iP / IQ^2) + RE (iN + iP - 2 IQ) = 0
    vi - vo = VT/2 ln(iN / iP) + RE (iN - iP) / 2,   vo = RL (iN - iP),

by bisection and plain sums over a cycle. Run: python3 grid.py
"""
from math import cosh, exp, log, pi, sin, sqrt

RE, RL, VT, SAMPLES, ORDERS = 0.22, 8.0, 25.852e-3, 2048, range(3, 40, 2)


def bisect(f, lo, hi):
    """The zero of the rising f between lo and hi."""
    for _ in range(200):
        mid = (lo + hi) / 2
        if mid in (lo, hi):
            break
        if f(mid) < 0:
            lo = mid
        else:
            hi = mid
    return (lo + hi) / 2


def output(vi, iq):
    """The output voltage. With iN, iP = m exp(+-u) the first equation gives m for
    each u, and the second is a rising function of u."""

    def mean(u):
        return exp(bisect(lambda lm: 2 * VT * (lm - log(iq)) + 2 * RE * (exp(lm) * cosh(u) - iq), log(iq) - 400, log(iq) + 1))

    def drop(u):
        load = 2 * mean(u) * (exp(u) - exp(-u)) / 2
        return VT * u + RE * load / 2 + RL * load - vi

    u = bisect(drop, 0, 200)
    return RL * mean(u) * (exp(u) - exp(-u))


for peak in (1, 4, 20):
    row = []
    for ratio in (0.1, 0.5, 1, 2):
        iq = ratio * VT / RE
        # A quarter of a cycle stands for all of an odd law.
        quarter = [output(peak * sin(2 * pi * (k + 0.5) / SAMPLES), iq) for k in range(SAMPLES // 4)]
        b = {n: sum(v * sin(2 * pi * n * (k + 0.5) / SAMPLES) for k, v in enumerate(quarter)) for n in (1, *ORDERS)}
        row.append(100 * sqrt(sum(b[n] ** 2 for n in ORDERS)) / abs(b[1]))
    print(peak, *(f"{x:.6g}" for x in row))
