"""What the reference tests share: libraries that may be missing, captures from a known truth, the program."""
import importlib
import json
import os
import shutil
import struct
import subprocess
import sys
import tempfile
import unittest

SKIPPED = 77


def skip(sentence):
    """The whole test is skipped, which is neither passed nor failed."""
    print(sentence)
    sys.exit(SKIPPED)


def library(name, package):
    try:
        return importlib.import_module(name)
    except ImportError:
        return skip(f"{name} is not installed; the Debian package is {package}.")


def tool(name, package):
    return shutil.which(name) or skip(f"{name} is not installed; the Debian package is {package}.")


def program():
    """The program under test, which meson names first."""
    if len(sys.argv) < 2:
        sys.exit(f"usage: {sys.argv[0]} PROGRAM")
    return os.path.abspath(sys.argv.pop(1))


def surroundings():
    keep = ("PATH", "ASAN_OPTIONS", "UBSAN_OPTIONS", "LSAN_OPTIONS", "TSAN_OPTIONS", "HOME")
    return {name: os.environ[name] for name in keep if name in os.environ}


class Case(unittest.TestCase):
    """Tests with a folder of their own."""

    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory(prefix="evenspool-")

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    @classmethod
    def path(cls, name):
        return os.path.join(cls.folder.name, name)

    def check(self, evenspool, *words, given=None):
        """The document of `check --json` for one capture."""
        done = subprocess.run([evenspool, "check", "--json", *words], input=given,
                              capture_output=True, timeout=120, env=surroundings(), check=False)
        self.assertEqual(done.returncode, 0, (words, done.stdout, done.stderr))
        document = json.loads(done.stdout)
        self.assertEqual(document["schema"], "evenspool.check/1")
        return document

    def near(self, actual, expected, tolerance, what=""):
        """Within the tolerance; written so that NaN and null fail."""
        self.assertIsNotNone(actual, what)
        if not abs(actual - expected) <= tolerance:
            self.fail(f"{what}: {actual!r}, expected {expected!r} +- {tolerance:g}")

    def alike(self, actual, expected, share, what=""):
        """Within a share of the expected value."""
        self.near(actual, expected, share * abs(expected), what)


def float_wav(path, frames, rate_hz):
    """Writes frames (count x channels, full scale +-1) as 32-bit float WAV."""
    data = frames.astype("<f4")
    if data.ndim == 1:
        data = data[:, None]
    channels = data.shape[1]
    raw = data.tobytes()
    form = struct.pack("<HHIIHH", 3, channels, rate_hz, rate_hz * channels * 4, channels * 4, 32)
    with open(path, "wb") as out:
        out.write(b"RIFF" + struct.pack("<I", 36 + len(raw)) + b"WAVE")
        out.write(b"fmt " + struct.pack("<I", len(form)) + form)
        out.write(b"data" + struct.pack("<I", len(raw)) + raw)


# IEC 60386:1972 table (the same in AES6-1982/2008 and DIN 45507); values from memory. [Hz], [dB]
WEIGHTING = ((0.1, -48.0), (0.2, -30.6), (0.315, -19.7), (0.4, -15.0), (0.63, -8.4), (0.8, -6.0),
             (1.0, -4.2), (1.6, -1.8), (2.0, -0.9), (4.0, 0.0), (6.3, -0.9), (10.0, -2.1),
             (20.0, -5.9), (40.0, -10.4), (63.0, -14.2), (100.0, -17.3), (200.0, -23.0))
