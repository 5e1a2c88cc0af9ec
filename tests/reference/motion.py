"""A speed curve that is known exactly, the tone that a deck moving so plays, and what to expect of it.

The deviation is a sum of sinusoids with whole turns in the capture, so its integral, the phase of the
tone, is exact term by term in the spectrum.
"""
import numpy as np
from scipy.interpolate import Akima1DInterpolator

from reference import WEIGHTING


class Motion:
    """spectrum: complex amplitudes of the deviation's real spectrum as numpy's rfft has them for `count`
    samples at rate_hz; speed(t) = (1 + error)(1 + deviation(t))."""

    def __init__(self, spectrum, count, rate_hz, error=0.0):
        self.count, self.rate_hz, self.error = count, rate_hz, error
        self.spectrum = spectrum
        self.spectrum[0] = 0.0
        self.rates_hz = np.fft.rfftfreq(count, 1.0 / rate_hz)

    def deviation(self, spectrum=None):
        return np.fft.irfft(self.spectrum if spectrum is None else spectrum, self.count)

    def turns(self, tone_hz):
        """Phase of the tone [cycles] at each sample: the integral of tone x speed."""
        integral = np.zeros_like(self.spectrum)
        integral[1:] = self.spectrum[1:] / (2j * np.pi * self.rates_hz[1:])
        time_s = np.arange(self.count) / self.rate_hz
        return tone_hz * (1.0 + self.error) * (time_s + np.fft.irfft(integral, self.count))

    def tone(self, tone_hz, amplitude=0.4):
        return amplitude * np.sin(2.0 * np.pi * np.mod(self.turns(tone_hz), 1.0))

    def between(self, low_hz, high_hz):
        """The deviation's part in low <= rate < high: a band with straight walls."""
        inside = (self.rates_hz >= low_hz) & (self.rates_hz < high_hz)
        return self.deviation(np.where(inside, self.spectrum, 0.0))

    def weighted(self):
        """The deviation through the standard's table."""
        used = np.abs(self.spectrum) > 0.0
        gain = np.zeros(len(self.rates_hz))
        gain[used] = 10.0 ** (weighting_db(self.rates_hz[used]) / 20.0)
        return self.deviation(self.spectrum * gain)


def weighting_db(rates_hz):
    """The standard's table, in dB over log rate, joined by Akima's local cubics (J. ACM 1970). Straight lines
    would cut off the rounded top between 2 and 4 Hz, where the table has no point, by 0.4 dB. Rates
    above 200 Hz: gone. Rates below the table are not wanted here."""
    table_hz, table_db = np.array(WEIGHTING).T
    if np.min(rates_hz) < table_hz[0]:
        raise ValueError("the table of the standard begins at 0.1 Hz")
    gain_db = Akima1DInterpolator(np.log(table_hz), table_db)(np.log(rates_hz))
    return np.where(rates_hz > table_hz[-1], -300.0, gain_db)


def random_motion(seconds, rate_hz, seed, density, low_hz, high_hz, rms, error=0.0):
    """Gaussian: amplitude density(rate) between low and high, scaled to rms."""
    count = int(seconds * rate_hz)
    random = np.random.default_rng(seed)
    rates_hz = np.fft.rfftfreq(count, 1.0 / rate_hz)
    inside = (rates_hz >= low_hz) & (rates_hz <= high_hz)
    spectrum = np.zeros(len(rates_hz), dtype=complex)
    parts = random.standard_normal((2, np.count_nonzero(inside)))
    spectrum[inside] = (parts[0] + 1j * parts[1]) * density(rates_hz[inside])
    motion = Motion(spectrum, count, rate_hz, error)
    motion.spectrum *= rms / np.sqrt(np.mean(motion.deviation() ** 2))
    return motion


def add_line(motion, rate_hz, peak, phase):
    """A sinusoid of the nearest rate with whole turns in the capture; returns that rate."""
    turns = round(rate_hz * motion.count / motion.rate_hz)
    motion.spectrum[turns] += peak * motion.count / 2.0 * np.exp(1j * phase)
    return turns * motion.rate_hz / motion.count
