#!/usr/bin/env python3
"""Captures of a test tape that sox and SciPy have altered in a known way: test_of_tape_read.py PROGRAM.

sox filters of known response (its equalizer and shelves are the biquads that its manual names: R. Bristow-Johnson's
cookbook formulas, computed here with SciPy), fractional delays by the Fourier transform, levels and noise. Promise:
response within 0.05 dB, delay within 0.3 us at 40 dB SNR, level within 0.05 dB.
"""
import json
import math
import subprocess
import unittest

import reference
from reference import Case, float_wav, surroundings

EVENSPOOL = reference.program()
np = reference.library("numpy", "python3-numpy")
signal = reference.library("scipy.signal", "python3-scipy")
wavfile = reference.library("scipy.io.wavfile", "python3-scipy")
SOX = reference.tool("sox", "sox")

RATE = 48000
WITHIN_DB = 0.05
LADDER = [315, 40, 63, 125, 250, 500, 1000, 2000, 4000, 6300, 8000, 10000, 12500, 16000]
PROGRAMME = {
    "schema": "evenspool.programme/1", "name": "reference", "about": "For tests",
    "transport": "cassette", "equalisation": "120", "reference_nwb_m": 250, "marker_db": -10,
    "broad_low_hz": 200, "broad_high_hz": 16000, "side_most_s": 300,
    "sides": [{"sections": [
        {"kind": "level", "name": "level", "hz": 315, "level_db": 0, "seconds": 3},
        {"kind": "azimuth-tones", "name": "tones", "steps": [
            {"hz": hz, "level_db": -10, "seconds": 3} for hz in (1000, 3150, 10000)]},
        {"kind": "azimuth-broadband", "name": "broadband", "level_db": -20, "seconds": 4},
        {"kind": "response", "name": "response", "steps": [
            {"hz": hz, "level_db": -20, "seconds": 4 if hz < 100 else 2.5} for hz in LADDER]},
        {"kind": "silence", "name": "silence", "seconds": 8},
        {"kind": "end", "name": "end"}]}, {"as": 1}]}


def biquad_db(kind, gain_db, centre_hz, q, hz):
    """The cookbook's peaking filter and shelves, as the sox manual describes its effects."""
    a = 10.0 ** (gain_db / 40.0)
    w = 2.0 * math.pi * centre_hz / RATE
    alpha, c, root = math.sin(w) / (2.0 * q), math.cos(w), 2.0 * math.sqrt(a)
    if kind == "equalizer":
        b = [1 + alpha * a, -2 * c, 1 - alpha * a]
        d = [1 + alpha / a, -2 * c, 1 - alpha / a]
    else:
        s = 1 if kind == "bass" else -1  # the treble shelf is the bass shelf turned round
        b = [a * ((a + 1) - s * (a - 1) * c + root * alpha), s * 2 * a * ((a - 1) - s * (a + 1) * c),
             a * ((a + 1) - s * (a - 1) * c - root * alpha)]
        d = [(a + 1) + s * (a - 1) * c + root * alpha, -s * 2 * ((a - 1) + s * (a + 1) * c),
             (a + 1) + s * (a - 1) * c - root * alpha]
    _, response = signal.freqz(b, d, worN=np.asarray(hz, dtype=float), fs=RATE)
    return 20.0 * np.log10(np.abs(response))


class TapeRead(Case):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        with open(cls.path("programme.json"), "w", encoding="utf-8") as out:
            json.dump(PROGRAMME, out)
        cls.run_it([EVENSPOOL, "tape", "write", "--programme", cls.path("programme.json"), "-o",
                    cls.path("side.wav")])
        rate, whole = wavfile.read(cls.path("side.wav"))
        assert rate == RATE
        cls.side = whole.astype(np.float64) / 2.0 ** 31
        # noise 40 dB under the tones at -20 dB, for all of the tests alike
        cls.noise = np.random.default_rng(5).normal(0.0, 10 ** (-72 / 20) / math.sqrt(2.0),
                                                    cls.side.shape)

    @classmethod
    def run_it(cls, words):
        done = subprocess.run(words, capture_output=True, timeout=120, env=surroundings(),
                              check=False)
        assert done.returncode == 0, (words, done.stderr)
        return done.stdout

    def read(self, path):
        return json.loads(self.run_it([EVENSPOOL, "tape", "read", "--json", "--programme",
                                       self.path("programme.json"), path]))

    def read_samples(self, name, samples):
        float_wav(self.path(name), samples, RATE)
        return self.read(self.path(name))

    def compare(self, document, truth_db, what):
        for channel in document["channels"]:
            for point, db in zip(channel["response"], truth_db - truth_db[0], strict=True):
                self.near(point["db"], db, WITHIN_DB, (what, channel["name"], point["hz"]))

    def test_filters_of_sox(self):
        float_wav(self.path("noisy.wav"), self.side + self.noise, RATE)
        for kind, gain_db, centre_hz, q in (("equalizer", 5.0, 2500.0, 1.2),
                                            ("equalizer", -7.0, 9000.0, 0.8),
                                            ("bass", 4.0, 200.0, None),
                                            ("treble", -6.0, 4000.0, None)):
            width = ["1.2q" if q == 1.2 else "0.8q"] if q else ["0.7071q"]
            with self.subTest(kind=kind, gain_db=gain_db):
                words = [kind, str(centre_hz), *width, str(gain_db)] if kind == "equalizer" else \
                        [kind, str(gain_db), str(centre_hz), *width]
                self.run_it([SOX, "-V1", self.path("noisy.wav"), "-e", "floating-point", "-b", "32",
                             self.path("filtered.wav"), *words])
                self.compare(self.read(self.path("filtered.wav")),
                             biquad_db(kind, gain_db, centre_hz, q or 0.7071, LADDER), kind)

    def test_another_equalisation(self):
        """A 120 us tape played with 70 us: IEC 60094-1, H = (1 + jw 70 us) / (1 + jw 120 us), by the Fourier
        transform. At 10 kHz against 315 Hz that is -4.54 + 0.16 dB less."""
        hz = np.fft.rfftfreq(len(self.side), 1.0 / RATE)
        jw = 2j * np.pi * hz
        curve = (1.0 + jw * 70e-6) / (1.0 + jw * 120e-6)
        played = np.fft.irfft(np.fft.rfft(self.side, axis=0) * curve[:, None], len(self.side), axis=0)
        document = self.read_samples("equalised.wav", played + self.noise)
        jw = 2j * np.pi * np.asarray(LADDER, dtype=float)
        self.compare(document, 20.0 * np.log10(np.abs((1.0 + jw * 70e-6) / (1.0 + jw * 120e-6))),
                     "equalisation")
        self.near(document["treble_db"][0], -4.38, 0.06, "10 kHz")
        self.assertIn("equalisation 70", document["equalisation_hint"])
        verdict = [v for v in document["verdicts"] if v["what"] == "response"][0]
        self.assertEqual(verdict["verdict"], "look-first")

    def test_delays(self):
        """The right channel moved by a phase that is linear in frequency, over the whole capture at once."""
        spectrum = np.fft.rfft(self.side[:, 1])
        hz = np.fft.rfftfreq(len(self.side), 1.0 / RATE)
        for delay_us, opposed in ((-73.1, False), (4.37, False), (25.0, True), (79.0, False)):
            with self.subTest(delay_us=delay_us):
                right = np.fft.irfft(spectrum * np.exp(-2j * np.pi * hz * delay_us * 1e-6),
                                     len(self.side))
                both = np.stack((self.side[:, 0], -right if opposed else right), axis=1)
                document = self.read_samples("delayed.wav", both + self.noise)
                azimuth = document["azimuth"]
                self.near(azimuth["delay_us"], delay_us, 0.3, "delay")
                self.assertTrue(azimuth["sure"])
                self.assertEqual(document["polarity"], "opposed" if opposed else "same")
                self.near(azimuth["phase_10k_deg"], 3.6 * delay_us, 1.1, "phase")

    def test_levels_and_noise(self):
        gains = np.array([10 ** (-2.4 / 20), 10 ** (1.7 / 20)])
        document = self.read_samples("levels.wav", self.side * gains + self.noise)
        for channel, gain_db, mine in zip(document["channels"], (-2.4, 1.7), self.noise.T,
                                          strict=True):
            self.near(channel["level_db"], -12.0 + gain_db, WITHIN_DB, "level")
            # SciPy's own periodogram of the same noise, 20 Hz .. 20 kHz
            hz, power = signal.welch(mine, RATE, nperseg=65536)
            band = (hz >= 20.0) & (hz <= 20000.0)
            rms_db = 10.0 * math.log10(np.sum(power[band]) * (hz[1] - hz[0]))
            self.near(channel["noise_db"]["unweighted"],
                      rms_db - (-12.0 + gain_db) + 10.0 * math.log10(2.0), 0.15, "noise")
        self.near(document["balance_db"], 4.1, WITHIN_DB, "balance")

    def test_a_side_played_by_sox_at_another_speed(self):
        """sox's resampler as the deck: everything 1.7 % higher, the response as it was."""
        self.run_it([SOX, "-V1", self.path("side.wav"), "-e", "floating-point", "-b", "32",
                     self.path("fast.wav"), "speed", "1.017", "rate", "-v", "-b", "99", str(RATE)])
        document = self.read(self.path("fast.wav"))
        self.near(document["played_speed"], 1.017, 0.0003, "speed")
        for channel in document["channels"]:
            for point in channel["response"]:
                self.near(point["db"], 0.0, WITHIN_DB, point["hz"])


if __name__ == "__main__":
    unittest.main()
