"""The quasi-peak reading of a known motion, from its definition in docs/methods.md.

Nothing here is the program's: the weighting is the standard's table with the phase that belongs to it by
Bode's relation (Network Analysis and Feedback Amplifier Design, 1945), the quarter turn comes from the phase
of the chains at each line of the spectrum, corners by SciPy's elliptic functions; only the detector
itself, which isn't linear, goes sample by sample.
"""
import numpy as np
from scipy.special import ellipj, ellipkm1

from motion import weighting_db

READINGS_HZ = 1201.0
SECTIONS = 10
LOW_HZ, HIGH_HZ = 0.2, 200.0
SMOOTHING_S, CHARGE_S, LEAK_S, INERTIA_S = 0.033, 0.031, 0.630, 0.270
STEPS_HZ = 1200  # the detector's own samples, here


def minimum_phase(rates_hz):
    """Phase of the weighting curve [radians]: the slope of the gain over log rate, weighted with
    ln coth |u / 2|; beyond the table straight on, with the third and the first power."""
    u = np.linspace(np.log(1e-4), np.log(2e6), 24000)
    inside = (u > np.log(0.1)) & (u < np.log(200.0))
    gain_db = np.empty_like(u)
    gain_db[inside] = weighting_db(np.exp(u[inside]))
    below, above = u <= np.log(0.1), u >= np.log(200.0)
    octave_db = 20.0 / np.log(10.0)
    gain_db[below] = -48.0 + 3.0 * octave_db * (u[below] - np.log(0.1))
    gain_db[above] = -23.0 - octave_db * (u[above] - np.log(200.0))
    slope, middle = np.diff(gain_db) / octave_db, 0.5 * (u[1:] + u[:-1])
    at = np.linspace(np.log(0.1), np.log(200.0), 400)
    distance = np.abs(middle[None, :] - at[:, None]) + 1e-9
    phase = np.log(1.0 / np.tanh(0.5 * distance)) @ slope / np.pi
    return np.interp(np.log(rates_hz), at, phase)


def chains(rates_hz):
    """What both chains of all-pass sections make of each rate: a quarter turn apart."""
    low, high = (np.tan(np.pi * hz / READINGS_HZ) for hz in (LOW_HZ, HIGH_HZ))
    ratio = low / high
    quarters = (np.arange(SECTIONS) + 0.5) / SECTIONS * ellipkm1(ratio ** 2)
    sn, cn, _, _ = ellipj(quarters, 1.0 - ratio ** 2)
    corners = np.sqrt(low * high * ratio) * sn / cn
    turn = 1j * np.tan(np.pi * rates_hz / READINGS_HZ)
    sections = [(corner - turn) / (corner + turn) for corner in corners]
    return np.prod(sections[0::2], axis=0), np.prod(sections[1::2], axis=0)


def detected(sizes):
    """Of a curve that repeats: once round to settle, then each step's reading."""
    smoothing, charge, leak, inertia = (1.0 - np.exp(-1.0 / (STEPS_HZ * time_s)) for time_s in
                                        (SMOOTHING_S, CHARGE_S, LEAK_S, INERTIA_S))
    smooth = stored = needle = 0.0
    readings = []
    for size in np.concatenate([sizes, sizes]).tolist():
        smooth += (size - smooth) * smoothing
        stored += (smooth - stored) * charge if smooth > stored else -stored * leak
        needle = needle + (stored - needle) * inertia if stored > needle else stored
        readings.append(needle)
    return np.array(readings[len(sizes):])


def needle(motion):
    """The reading over the motion's time [fraction], STEPS_HZ values a second."""
    steps = motion.count * STEPS_HZ // motion.rate_hz
    lines = slice(1, int(HIGH_HZ * motion.count / motion.rate_hz) + 1)
    rates_hz = motion.rates_hz[lines]
    gain = np.zeros(len(rates_hz), dtype=complex)
    used = np.abs(motion.spectrum[lines]) > 0.0
    gain[used] = (10.0 ** (weighting_db(rates_hz[used]) / 20.0)
                  * np.exp(1j * minimum_phase(rates_hz[used])))

    def curve(response):
        spectrum = np.zeros(steps // 2 + 1, dtype=complex)
        spectrum[lines] = motion.spectrum[lines] * gain * response * steps / motion.count
        return np.fft.irfft(spectrum, steps)

    first, second = chains(rates_hz)
    envelope = np.hypot(curve(first), curve(second))
    return detected(np.maximum(envelope, np.abs(curve(1.0))))
