"""A sound card that is not there (audio.sh), for tests of the whole program."""
import functools
import os
import subprocess
import tempfile
import unittest

AUDIO = os.path.join(os.path.dirname(os.path.abspath(__file__)), "audio.sh")
RATE = 48000
PATIENCE_S = 60  # for what must come: a busy machine may stand still for seconds

# A side of seven seconds.
SHORT = {"schema": "evenspool.programme/1", "name": "short", "about": "", "transport": "cassette",
         "equalisation": "120", "reference_nwb_m": 250, "marker_db": -10, "broad_low_hz": 200,
         "broad_high_hz": 16000, "side_most_s": 1800,
         "sides": [{"sections": [
             {"kind": "leader", "name": "leader", "seconds": 1},
             {"kind": "level", "name": "level", "hz": 400, "level_db": 0, "seconds": 2},
             {"kind": "right-only", "name": "right-only",
              "steps": [{"hz": 1000, "level_db": -10, "seconds": 1.5}]},
             {"kind": "end", "name": "end"}]}, {"as": 1}]}


def shell(command, env=None):
    """What a command of audio.sh prints."""
    done = subprocess.run(["sh", "-c", f'. "{AUDIO}"; {command}'], env=env, check=False,
                          stdout=subprocess.PIPE, timeout=PATIENCE_S)
    if done.returncode:
        raise RuntimeError(f"{command}: {done.returncode}")
    return done.stdout


def some_tries(test):
    """For a test that needs unbroken sound: a machine that stands still for a moment starves whoever
    plays or records, so it may fail four times, and says so. A program that is wrong fails each time."""
    @functools.wraps(test)
    def run(self):
        for _ in range(4):
            try:
                return test(self)
            except AssertionError as failure:
                print(f"{test.__name__}, once more: {str(failure)[:400]}", flush=True)
            self.doCleanups()
            self.setUp()
        return test(self)
    return run


class OnSoundCard(unittest.TestCase):
    """Each test has a server of its own, and a folder that goes with it."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="evenspool-")
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        server = os.path.join(self.folder, "audio")
        shown = shell(f'audio_sanitizer "{os.path.dirname(AUDIO)}"; '
                      f'audio_start "{server}" >&2 && env -0')
        self.env = dict(item.split("=", 1) for item in shown.decode().split("\0") if "=" in item)
        self.addCleanup(lambda: shell(f'audio_stop "{server}"', self.env))

    def path(self, name):
        return os.path.join(self.folder, name)

    def start(self, words, **more):
        """The program, which ends with the test at the latest."""
        process = subprocess.Popen(words, env=self.env, stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, **({"text": True} | more))
        self.addCleanup(process.stdout.close)
        self.addCleanup(process.stderr.close)
        self.addCleanup(lambda: process.poll() is None and (process.kill(), process.wait()))
        return process
