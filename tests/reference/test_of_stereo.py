#!/usr/bin/env python3
"""Delay, level and polarity between the channels against SciPy: test_of_stereo.py PROGRAM.

Reference: the cross spectrum (scipy.signal.csd) summed about the tone; its angle over 2 pi f is the delay,
modulo a period; the ratio of the channels' power spectra is the level difference.
"""
import unittest

import reference
from reference import Case, float_wav

np = reference.library("numpy", "python3-numpy")
signal = reference.library("scipy.signal", "python3-scipy")
from motion import add_line, random_motion  # noqa: E402  needs both
EVENSPOOL = reference.program()

RATE_HZ = 48000
SECONDS = 20


def deck(tone_hz, seed, error=0.0, flutter=8e-4):
    motion = random_motion(SECONDS, RATE_HZ, seed, lambda f: f ** -0.5, 0.3, 100.0, flutter, error)
    add_line(motion, 6.1, 5e-4, 0.4)
    return motion


def pair(motion, tone_hz, delay_s, level_db, opposed, noise, seed):
    """The right head hears what the left did delay_s before: the phase of the same turns, later."""
    turns = motion.turns(tone_hz)
    spectrum = np.fft.rfft(turns - tone_hz * (1.0 + motion.error)
                           * np.arange(motion.count) / RATE_HZ)
    late = np.fft.irfft(spectrum * np.exp(-2j * np.pi * motion.rates_hz * delay_s), motion.count)
    time_s = np.arange(motion.count) / RATE_HZ - delay_s
    right = np.sin(2.0 * np.pi * (tone_hz * (1.0 + motion.error) * time_s + late))
    left = np.sin(2.0 * np.pi * turns)
    random = np.random.default_rng(seed)
    right *= 10.0 ** (level_db / 20.0) * (-1.0 if opposed else 1.0)
    both = 0.3 * np.stack([left, right], axis=1)
    return both + noise * random.standard_normal(both.shape)


def measured(both, tone_hz):
    """(delay [us], level difference [dB], opposed) by scipy, folded into a quarter period."""
    about = {"fs": RATE_HZ, "nperseg": 8192, "window": "hann"}
    rates_hz, cross = signal.csd(both[:, 0], both[:, 1], **about)
    _, left = signal.welch(both[:, 0], **about)
    _, right = signal.welch(both[:, 1], **about)
    near = np.abs(rates_hz - tone_hz) < 0.05 * tone_hz
    angle = np.angle(np.sum(cross[near]))
    opposed = abs(angle) > np.pi / 2.0
    if opposed:
        angle -= np.copysign(np.pi, angle)
    heard_hz = np.sum(rates_hz[near] * left[near]) / np.sum(left[near])
    level_db = 10.0 * np.log10(np.sum(right[near]) / np.sum(left[near]))
    return -1e6 * angle / (2.0 * np.pi * heard_hz), level_db, opposed


class Stereo(Case):
    def compare(self, tone_hz, delay_us, level_db, opposed=False, noise=1e-4, seed=1, within_us=0.1,
                within_db=0.02, error=0.007):
        both = pair(deck(tone_hz, seed, error), tone_hz, 1e-6 * delay_us, level_db, opposed, noise,
                    seed)
        float_wav(self.path("pair.wav"), both, RATE_HZ)
        what = (tone_hz, delay_us, level_db, opposed)
        document = self.check(EVENSPOOL, "--tone", str(tone_hz), self.path("pair.wav"))
        heard, (their_us, their_db, their_opposed) = document["stereo"], measured(both, tone_hz)
        self.near(heard["delay_us"], their_us, within_us, f"{what} against scipy")
        self.near(heard["delay_us"], delay_us, within_us, f"{what} against the truth")
        self.near(heard["level_difference_db"], their_db, within_db, f"{what} against scipy")
        self.near(heard["level_difference_db"], level_db, within_db, f"{what} against the truth")
        self.assertEqual(heard["polarity"], "opposed" if opposed else "same", what)
        self.assertEqual(their_opposed, opposed, what)
        period_us = 1e6 / (tone_hz * (1.0 + error))
        self.near(heard["delay_period_us"], period_us, 1e-3 * period_us, f"{what}: period")

    def test_delays(self):
        for delay_us in (-70.0, -12.5, -0.7, 0.0, 0.3, 5.497, 33.0, 75.0):
            with self.subTest(delay_us=delay_us):
                self.compare(3150, delay_us, 0.0)

    def test_levels(self):
        for level_db in (-18.0, -3.0, -0.25, 0.5, 6.0):
            with self.subTest(level_db=level_db):
                self.compare(3150, 4.0, level_db, seed=2)

    def test_polarity(self):
        for delay_us in (-20.0, 0.0, 40.0):
            self.compare(3150, delay_us, -1.0, opposed=True, seed=3)

    def test_other_tones(self):
        self.compare(1000, 120.0, 1.0, seed=4, within_us=0.3)
        self.compare(10000, 11.0, 1.0, seed=5, within_us=0.05)

    def test_in_noise(self):
        """23 dB in either channel: the scatter of the angle over 20 s is some 1e-4 rad, 0.01 us."""
        self.compare(3150, 9.0, 0.5, noise=0.015, seed=6)


if __name__ == "__main__":
    unittest.main()
