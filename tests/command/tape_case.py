"""What the tests of the test tape's verbs share: a small programme, a folder for it, and the program run there."""
import json
import os
import subprocess
import sys
import tempfile
import unittest

PROGRAM = os.path.abspath(sys.argv.pop(1))  # all of them are called with it
DONE, OUTSIDE, USAGE, INPUT, AROUND = range(5)


def small(*sides, **others):
    """A programme; sides: lists of sections, or a side as a whole."""
    return {"schema": "evenspool.programme/1", "name": "small", "about": "For tests",
            "transport": "cassette", "equalisation": "120", "reference_nwb_m": 250,
            "marker_db": -10, "broad_low_hz": 200, "broad_high_hz": 12500, "side_most_s": 300,
            **others,
            "sides": [{"sections": side} if isinstance(side, list) else side for side in sides]}


def environment():
    return {name: value for name, value in os.environ.items()
            if name.endswith("SAN_OPTIONS") or name in ("PATH", "HOME")}


def call(folder, *words, **more):
    """Runs the program in the folder; more: as subprocess.run has it."""
    for stream, usual in (("stdin", subprocess.DEVNULL), ("stdout", subprocess.PIPE),
                          ("stderr", subprocess.PIPE)):
        more.setdefault(stream, usual)
    return subprocess.run([PROGRAM, *words], cwd=folder, env=environment(), check=False,
                          timeout=120, **more)


class FolderCase(unittest.TestCase):
    """A class of tests in a folder with its PROGRAMME, small.json."""
    PROGRAMME = None

    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="evenspool-")
        cls.addClassCleanup(folder.cleanup)
        cls.folder = folder.name
        with open(cls.path("small.json"), "w", encoding="utf-8") as out:
            json.dump(cls.PROGRAMME, out)

    @classmethod
    def path(cls, name):
        return os.path.join(cls.folder, name)

    @classmethod
    def call(cls, *words, **more):
        return call(cls.folder, *words, **more)


class SideCase(FolderCase):
    """And with its first side, side.wav."""
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.call("tape", "write", "--programme", "small.json", "--rate", "32000", "-o",
                 "side.wav").check_returncode()
