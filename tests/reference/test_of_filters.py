#!/usr/bin/env python3
"""Filters against SciPy and against models of our own table: test_of_filters.py PRINT_FILTERS."""
import json
import subprocess
import unittest

import reference
from reference import WEIGHTING

np = reference.library("numpy", "python3-numpy")
signal = reference.library("scipy.signal", "python3-scipy")
optimize = reference.library("scipy.optimize", "python3-scipy")
from motion import weighting_db  # noqa: E402  needs both

PRINT_FILTERS = reference.program()


def decibels(gain):
    return 20.0 * np.log10(np.abs(gain))


def five_poles_db(logs, rates_hz):
    """A smooth network such as one of coils and capacitors: three zeros at 0 Hz, a pole pair, three poles, a zero."""
    gain, single, pair, quality, zero, first, second = np.exp(logs)
    s = 1j * rates_hz
    return decibels(gain * s ** 3 * (1.0 + s / zero)
                    / ((s + single) * (s * s + s * pair / quality + pair * pair)
                       * (1.0 + s / first) * (1.0 + s / second)))


class Filters(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        done = subprocess.run([PRINT_FILTERS], capture_output=True, check=True, timeout=60,
                              env=reference.surroundings())
        cls.as_built = json.loads(done.stdout)
        cls.readings_hz = cls.as_built["readings_hz"]
        cls.grid_hz, cls.grid_db = np.array(cls.as_built["weighting_db"]).T

    def most(self, actual, expected, limit, what):
        off = np.max(np.abs(np.asarray(actual) - np.asarray(expected)))
        self.assertLessEqual(off, limit, what)

    # --- weighting --------------------------------------------------------------------------

    def test_the_stated_curve_is_that_of_the_sections(self):
        sections = np.array(self.as_built["weighting"])
        _, gain = signal.sosfreqz(sections, self.grid_hz, fs=self.readings_hz)
        self.most(self.grid_db, decibels(gain), 1e-6, "stated against scipy.signal.sosfreqz")

    def test_the_meter_does_what_the_sections_say(self):
        impulse = np.array(self.as_built["impulse"])
        ours = signal.sosfilt(np.array(self.as_built["weighting"]), np.eye(1, len(impulse))[0])
        self.most(impulse, ours, 1e-10, "impulse against scipy.signal.sosfilt")
        rates_hz = np.array([rate for rate, _ in WEIGHTING])
        turns = np.exp(-2j * np.pi * np.outer(rates_hz, np.arange(len(impulse))) / self.readings_hz)
        table_db = [db for _, db in WEIGHTING]
        self.most(decibels(turns @ impulse), table_db, 0.05, "impulse's spectrum against the table")

    def test_the_sections_are_stable(self):
        for section in self.as_built["weighting"]:
            self.assertTrue(np.all(np.abs(np.roots(section[3:])) < 1.0), section)

    def test_between_the_points_the_curve_is_that_of_a_smooth_model(self):
        """Five poles fitted to the same table (they miss its points by up to 0.3 dB themselves)."""
        table_hz, table_db = np.array(WEIGHTING).T
        start = np.log([1.0, 1.5, 0.45, 0.65, 40.0, 10.0, 60.0])
        fit = optimize.least_squares(lambda logs: five_poles_db(logs, table_hz) - table_db, start)
        self.assertLess(np.max(np.abs(fit.fun)), 0.35)
        inside = (self.grid_hz >= 0.1) & (self.grid_hz <= 200.0)
        self.most(self.grid_db[inside], five_poles_db(fit.x, self.grid_hz[inside]), 0.4,
                  "against five poles")

    def test_between_the_points_the_curve_is_that_of_local_cubics(self):
        inside = (self.grid_hz >= 0.1000001) & (self.grid_hz <= 200.0)
        self.most(self.grid_db[inside], weighting_db(self.grid_hz[inside]), 0.2, "against Akima")

    # --- Butterworth ------------------------------------------------------------------------

    def test_butterworth(self):
        rates_hz = np.geomspace(0.01, 600.0, 200)
        for ours in self.as_built["butterworth"]:
            kind = "highpass" if ours["high"] else "lowpass"
            with self.subTest(order=ours["order"], corner=ours["corner_hz"], kind=kind):
                sections = np.array(ours["sections"])
                self.assertEqual(len(sections), (ours["order"] + 1) // 2)
                theirs = signal.butter(ours["order"], ours["corner_hz"], kind, output="sos",
                                       fs=self.readings_hz)
                _, gain = signal.sosfreqz(sections, rates_hz, fs=self.readings_hz)
                _, wanted = signal.sosfreqz(theirs, rates_hz, fs=self.readings_hz)
                # where 1e-9 of the pass band is left, rounding is all there is
                self.most(gain, wanted, 1e-9 + 1e-6 * np.min(np.abs(wanted)), "gain and phase")

    # --- Kaiser -----------------------------------------------------------------------------

    def test_kaisers_parameter_and_window(self):
        for ours in self.as_built["kaiser"]:
            attenuation_db = ours["attenuation_db"]
            # below 50 dB the formula is another one; scipy changes over at 50
            if attenuation_db > 50.0:
                self.assertAlmostEqual(ours["beta"], signal.kaiser_beta(attenuation_db), 12)
            window = signal.windows.kaiser(21, ours["beta"])
            self.most(ours["window"], window, 1e-12, "window")

    def test_low_passes_are_as_good_as_scipys(self):
        for ours in self.as_built["kaiser"]:
            attenuation_db, transition = ours["attenuation_db"], ours["transition"]
            with self.subTest(attenuation_db=attenuation_db, transition=transition):
                taps, count = np.array(ours["taps"]), len(ours["taps"])
                wanted, beta = signal.kaiserord(attenuation_db, 2.0 * transition)
                # kaiserord's constant is 14.36 as well; ours is rounded up to whole vectors
                self.assertTrue(wanted - 1 <= count <= wanted + 8, (count, wanted))
                theirs = signal.firwin(count, 2.0 * ours["cutoff"], window=("kaiser", beta))
                self.most(taps, theirs, 2e-3 * np.max(theirs), "taps")
                self.most(taps, taps[::-1], 1e-15, "symmetry")
                self.assertAlmostEqual(np.sum(taps), 1.0, 12)
                cycles = np.linspace(0.0, 0.5, 20001)
                _, gain = signal.freqz(taps, worN=cycles, fs=1.0)
                _, their_gain = signal.freqz(theirs, worN=cycles, fs=1.0)
                stop = cycles >= ours["cutoff"] + transition / 2.0
                kept = cycles <= ours["cutoff"] - transition / 2.0
                leak_db = decibels(np.max(np.abs(gain[stop])))
                self.assertLessEqual(leak_db, 1.1 - attenuation_db, "stop band")
                self.assertLessEqual(
                    leak_db, 0.6 + decibels(np.max(np.abs(their_gain[stop]))), "against firwin")
                ripple = np.max(np.abs(np.abs(gain[kept]) - 1.0))
                their_ripple = np.max(np.abs(np.abs(their_gain[kept]) - 1.0))
                self.assertLessEqual(ripple, 1.08 * their_ripple, "pass band")


if __name__ == "__main__":
    unittest.main()
