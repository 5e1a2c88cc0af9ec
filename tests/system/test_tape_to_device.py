#!/usr/bin/env python3
"""`tape write --to` on a sound card that is not there (audio.sh): test_tape_to_device.py PROGRAM

What a deck at the cable's other end would record is recorded here, and compared with the file that the
same programme is written to.
"""
import array
import json
import os
import signal
import subprocess
import sys
import threading
import time
import unittest

from sound_card import PATIENCE_S, RATE, SHORT, OnSoundCard, shell, some_tries

PROGRAM = os.path.abspath(sys.argv.pop(1))
DONE, USAGE, AROUND = 0, 2, 4


class Deck:
    """Records what comes out of the cable."""

    def __init__(self, env):
        self.process = subprocess.Popen(
            ["pacat", "--record", "--raw", "--device=cable.monitor", "--format=float32le",
             f"--rate={RATE}", "--channels=2", "--latency-msec=500"],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=env)
        self.bytes = bytearray()
        self.thread = threading.Thread(target=self.read)
        self.thread.start()

    def read(self):
        while True:
            block = self.process.stdout.read(65536)
            if not block:
                return
            self.bytes += block

    def stop(self):
        """What was recorded, sample by sample, left and right in turn."""
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait()
        self.thread.join()
        self.process.stdout.close()
        return array.array("f", bytes(self.bytes[:len(self.bytes) // 8 * 8]))


def samples_of(path):
    """Of a 24 bit stereo WAV file, as numbers from -1 to 1."""
    with open(path, "rb") as file:
        content = file.read()
    body = content[content.index(b"data", 12) + 8:]
    return [int.from_bytes(body[i:i + 3], "little", signed=True) / 8388608.0
            for i in range(0, len(body) - 2, 3)]


class Device(OnSoundCard):
    def setUp(self):
        super().setUp()
        for name, seconds in (("short.json", 2), ("long.json", 60)):
            SHORT["sides"][0]["sections"][1]["seconds"] = seconds
            with open(self.path(name), "w", encoding="utf-8") as file:
                json.dump(SHORT, file)

    def begin(self, *words, programme=None):
        return self.start([PROGRAM, "tape", "write", "--to", "device:cable_out", "--programme",
                           programme or self.path("short.json"), *words],
                          stdin=subprocess.PIPE, text=False)

    def read_until(self, process, words):
        """What it says up to these words."""
        said = b""
        while words.encode() not in said:
            byte = process.stderr.read(1)
            self.assertTrue(byte, said)
            said += byte
        return said.decode()

    @some_tries
    def test_a_deck_hears_level_tone_and_side(self):
        deck = Deck(self.env)
        self.addCleanup(deck.stop)
        time.sleep(1.0)
        process = self.begin("--json")
        said = self.read_until(process, "press Enter.\n")
        self.assertIn("400 Hz at reference level, on cable_out", " ".join(said.split()))
        self.assertIn("250 nWb/m", said)
        time.sleep(2.0)
        out, err = process.communicate(b"\n", timeout=PATIENCE_S)
        time.sleep(1.0)
        heard = deck.stop()
        self.assertEqual(process.returncode, DONE, err)
        said = " ".join(err.decode().split())
        places = [said.index(words) for words in
                  ("Press record now", "The side begins in 5", "The side begins in 1",
                   "leader: silence", "level: 400 Hz, 0 dB", "right-only: 1000 Hz, -10 dB",
                   "end: marker only", "Side a is recorded")]
        self.assertEqual(places, sorted(places))
        self.assertEqual(json.loads(out)["samplerate_hz"], RATE)
        self.assert_is_heard(heard)

    def assert_is_heard(self, heard):
        """The whole side, and before it at least 1.5 s of tone at -12 dB in both channels."""
        written = self.path("side.wav")
        subprocess.run([PROGRAM, "tape", "write", "--programme", self.path("short.json"), "-o",
                        written], check=True, stdout=subprocess.DEVNULL, timeout=PATIENCE_S)
        side = samples_of(written)
        left, right = heard[::2], heard[1::2]
        first = next(i for i, x in enumerate(side[::2]) if x)  # of the first marker
        begin = self.place_of(side[::2][first:first + 2000], left) - first
        self.assertGreaterEqual(len(left) - begin, len(side) // 2)
        worst = max(max(abs(a - b) for a, b in zip(side[::2], left[begin:])),
                    max(abs(a - b) for a, b in zip(side[1::2], right[begin:])))
        print(f"{len(side) // 2} frames; off by {worst:.2e} at most")
        self.assertLess(worst, 0.51 * 2.0 ** -23)  # the file is rounded to 24 bit
        tone = left[:begin - 4 * RATE]
        loud = [i for i, x in enumerate(tone) if abs(x) > 0.2]
        self.assertGreater(loud[-1] - loud[0], 1.5 * RATE)
        self.assertAlmostEqual(max(tone), 10 ** (-12 / 20), delta=2e-5)
        self.assertEqual(list(tone), list(right[:len(tone)]))

    def place_of(self, part, samples):
        """Where part stands in samples; both are the same but for the rounding to 24 bit."""
        for begin in range(len(samples) - len(part)):
            if all(abs(part[k] - samples[begin + k]) < 1e-6 for k in range(len(part))):
                return begin
        return self.fail("the side was not heard")

    @some_tries
    def test_a_pulled_plug_is_told_and_spoils_the_side(self):
        process = self.begin("--ready", programme=self.path("long.json"))
        self.read_until(process, "level: ")
        pulled = time.monotonic()
        shell("audio_unplug", self.env)
        _, err = process.communicate(timeout=PATIENCE_S)
        print(f"told {time.monotonic() - pulled:.2f} s after the plug was pulled")
        self.assertEqual(process.returncode, AROUND, err)
        said = err.decode().splitlines()[-1]
        self.assertIn("cable_out has vanished", said)
        self.assertIn("record the side again from the start", said)

    @some_tries
    def test_control_c_stops_cleanly(self):
        for words, sentence in ((("--ready",), "record it again from the start"),
                                ((), "Stopped before the side began")):
            process = self.begin(*words)
            self.read_until(process, "right-only: " if words else "press Enter.\n")
            process.send_signal(signal.SIGINT)
            _, err = process.communicate(timeout=PATIENCE_S)
            self.assertEqual(process.returncode, AROUND, err)
            self.assertIn(sentence, err.decode().splitlines()[-1])

    def test_nobody_at_the_keyboard_is_told(self):
        process = self.begin()
        self.read_until(process, "press Enter.\n")
        _, err = process.communicate(b"", timeout=PATIENCE_S)
        self.assertEqual(process.returncode, USAGE, err)
        self.assertIn("--ready", err.decode())

    def test_a_device_that_is_not_there_is_told(self):
        done = subprocess.run([PROGRAM, "tape", "write", "--to", "device:none-of-these"],
                              env=self.env, capture_output=True, timeout=PATIENCE_S, check=False)
        self.assertEqual(done.returncode, AROUND, done.stderr)
        self.assertIn(b"none-of-these", done.stderr)
        self.assertEqual(done.stdout, b"")


if __name__ == "__main__":
    try:
        shell("audio_have")
    except RuntimeError:
        print("The sound server is not installed; the Debian packages are pulseaudio and "
              "pulseaudio-utils.")
        sys.exit(77)
    unittest.main()
