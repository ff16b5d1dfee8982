"""Figures of the project's measures, by other libraries.

Makes signals from formulas that the Go test crosscheck_test.go repeats, measures
them with NumPy, SciPy and libebur128, and prints reference.json. See README.md.
"""

import ctypes
import json

import numpy as np
import scipy
from scipy import optimize, signal


def noise(n, seed):
    """Uniform noise in -1..1 from a 64-bit linear congruential generator."""
    out = np.empty(n)
    state = seed
    for i in range(n):
        state = (state * 6364136223846793005 + 1442695040888963407) % 2**64
        out[i] = (state >> 11) / 2**52 - 1
    return out


def tone():
    rate, n, hertz = 48000, 96000, 997.37
    t = 2 * np.pi * hertz / rate * np.arange(n) + 0.4
    x = 0.01 + 0.7 * np.cos(t)
    for order, amplitude, phase in ((2, 3e-3, 0.5), (3, 1e-3, -1), (5, 2e-5, 2)):
        x += 0.7 * amplitude * np.cos(order * t + phase)
    return rate, x + 1e-5 * noise(n, 1)


def design(omega, n):
    t = np.arange(n) - (n - 1) / 2
    columns = [np.ones(n)]
    for k in range(1, 21):
        columns += [np.cos(k * omega * t), np.sin(k * omega * t)]
    return np.stack(columns, 1)


def measure_tone(out):
    rate, x = tone()
    n = len(x)
    lines = np.abs(np.fft.rfft(x * signal.windows.flattop(n, sym=False)))
    start = 2 * np.pi * (np.argmax(lines[10:]) + 10) / n

    def misfit(offset):
        m = design(start + offset[0] / n, n)
        c, *_ = np.linalg.lstsq(m, x, rcond=None)
        return (x - m @ c) * 1e5

    best = optimize.least_squares(misfit, [0.0], jac="3-point", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    omega = start + best.x[0] / n
    m = design(omega, n)
    c, *_ = np.linalg.lstsq(m, x, rcond=None)
    a = np.hypot(c[1::2], c[2::2])
    rest = x - m @ c
    out["frequency"] = omega * rate / (2 * np.pi)
    out["fundamental"] = a[0]
    out["dc"] = c[0]
    for order in (2, 3, 5):
        out[f"harmonic_{order}"] = a[order - 1] / a[0]
    out["thd_f"] = np.sqrt(np.sum(a[1:] ** 2)) / a[0]
    f = np.fft.rfftfreq(n, 1 / rate)
    power = 2 * np.abs(np.fft.rfft(rest)) ** 2 / n**2
    band = (f >= 20) & (f <= 20000)
    harmonics = np.sum(a[1:] ** 2) / 2
    total = np.sum(power[band]) + harmonics
    out["thd_n"] = np.sqrt(total / (total + a[0] ** 2 / 2))
    out["noise"] = np.sqrt(np.sum(power[band]))
    # IEC 61672-1, annex E, by its zeros and poles.
    poles = -2 * np.pi * np.array([20.598997, 20.598997, 107.65265, 737.86223, 12194.217, 12194.217])
    _, h = signal.freqs_zpk([0, 0, 0, 0], poles, 1, 2 * np.pi * f[1:])
    _, at1k = signal.freqs_zpk([0, 0, 0, 0], poles, 1, [2 * np.pi * 1000])
    gain = np.concatenate([[0], np.abs(h) / np.abs(at1k)])
    out["noise_a"] = np.sqrt(np.sum((power * gain**2)[band]))


def measure_bands(out):
    x = 0.2 * noise(1 << 18, 2)
    f, density = signal.welch(x, 48000, "hann", 1 << 14, detrend=False)
    for tenths in (-9, 0, 7, 12):
        middle = 1000 * 10 ** (tenths / 10)
        inside = (f >= middle * 10**-0.05) & (f < middle * 10**0.05)
        mean = np.mean(density[inside]) * middle * (10**0.05 - 10**-0.05)
        out[f"band_{tenths}"] = 10 * np.log10(2 * mean)


def programme(rate, channels, seconds):
    n = rate * seconds
    t = np.arange(n) / rate
    level = np.where((t * 0.5) % 1 < 0.6, 0.5, 0.02)
    x = []
    for c in range(channels):
        y = 0.5 * np.sin(2 * np.pi * 220.5 * t + c) + 0.3 * np.sin(2 * np.pi * 3520.3 * t) + 0.2 * noise(n, 10 + c)
        x.append(level * y)
    return np.stack(x, 1)


def loudness(out):
    lib = ctypes.CDLL("libebur128.so.1")
    lib.ebur128_init.restype = ctypes.c_void_p
    lib.ebur128_init.argtypes = [ctypes.c_uint, ctypes.c_ulong, ctypes.c_int]
    lib.ebur128_add_frames_double.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t]
    lib.ebur128_loudness_global.argtypes = [ctypes.c_void_p, ctypes.POINTER(ctypes.c_double)]
    lib.ebur128_true_peak.argtypes = [ctypes.c_void_p, ctypes.c_uint, ctypes.POINTER(ctypes.c_double)]
    major, minor, patch = ctypes.c_int(), ctypes.c_int(), ctypes.c_int()
    lib.ebur128_get_version(ctypes.byref(major), ctypes.byref(minor), ctypes.byref(patch))
    out["libebur128"] = f"{major.value}.{minor.value}.{patch.value}"
    integrated_and_true_peak = (1 << 0) | (1 << 2) | (1 << 4) | (1 << 5)
    for rate, channels in ((44100, 2), (48000, 1), (48000, 5), (96000, 2)):
        x = np.ascontiguousarray(programme(rate, channels, 8))
        state = lib.ebur128_init(channels, rate, integrated_and_true_peak)
        lib.ebur128_add_frames_double(state, x.ctypes.data, len(x))
        value = ctypes.c_double()
        lib.ebur128_loudness_global(state, ctypes.byref(value))
        out[f"loudness_{rate}_{channels}"] = value.value
        peak = 0.0
        for c in range(channels):
            lib.ebur128_true_peak(state, c, ctypes.byref(value))
            peak = max(peak, value.value)
        out[f"true_peak_{rate}_{channels}"] = 20 * np.log10(peak)
        # The peak of the band-limited waveform itself, by a transform of it all.
        fine = np.abs(signal.resample(x, 16 * len(x), axis=0)).max()
        out[f"fine_peak_{rate}_{channels}"] = 20 * np.log10(fine)


def measure_alignment(out):
    n, delay, gain = 96000, 123.4567, 0.8
    t = np.arange(n)
    a, b = np.zeros(n), np.zeros(n)
    for k in range(60):
        omega = 2 * np.pi * 60 * (15000 / 60) ** (k / 59) * (1 + 0.01 * np.sin(7 * k)) / 48000
        a += 0.05 * np.sin(omega * t + k * k)
        b += gain * 0.05 * np.sin(omega * (t - delay) + k * k)
    b += 1e-4 * noise(n, 3)
    lag = np.argmax(signal.correlate(b, a, "full", "fft")) - (n - 1)
    # The rest by the slope of the cross-spectrum's phase.
    f, cross = signal.csd(a[: n - lag], b[lag:], 1, "blackmanharris", 1 << 13)
    _, power = signal.welch(a[: n - lag], 1, "blackmanharris", 1 << 13)
    use = power > 1e-3 * power.max()
    w = np.abs(cross[use])
    phase = np.angle(cross[use])
    out["delay"] = lag - np.sum(w * phase * f[use]) / np.sum(w * f[use] ** 2) / (2 * np.pi)
    out["gain"] = np.sum(np.abs(cross[use])) / np.sum(power[use])


def main():
    out = {"numpy": np.__version__, "scipy": scipy.__version__}
    measure_tone(out)
    measure_bands(out)
    loudness(out)
    measure_alignment(out)
    print(json.dumps({k: v if isinstance(v, str) else float(v) for k, v in out.items()}, indent=1))


main()
