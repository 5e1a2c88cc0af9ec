#!/usr/bin/env python3
"""`trim` and `inputs` on a sound card that is not there (audio.sh):
test_live_device.py PROGRAM [SECONDS]

SECONDS is the length of the run in which nothing may be lost, 25 unless told; ten minutes is

    tests/system/test_live_device.py build/evenspool 600 Device.test_loses_nothing
"""
import array
import json
import math
import os
import shutil
import subprocess
import sys
import threading
import time
import unittest

from sound_card import PATIENCE_S, RATE, OnSoundCard, shell, some_tries

PROGRAM = os.path.abspath(sys.argv.pop(1))
SECONDS = float(sys.argv.pop(1)) if len(sys.argv) > 1 and sys.argv[1].isdigit() else 25.0
WRAP = 1 << 23
TONE_HZ = 3150 * 1.002
PERIOD = 160000  # frames in which this tone comes round
DONE, AROUND = 0, 4


class Player:
    """A deck that plays: a tone on the left, the number of each frame on the right."""

    def __init__(self, env):
        self.process = subprocess.Popen(
            ["pacat", "--playback", "--raw", "--device=cable", "--format=float32le",
             f"--rate={RATE}", "--channels=2", "--latency-msec=2000"],
            stdin=subprocess.PIPE, stderr=subprocess.DEVNULL, env=env)
        self.stopping = False
        self.thread = threading.Thread(target=self.play)
        self.thread.start()

    def play(self):
        step, frame = 2 * math.pi * TONE_HZ / RATE, 0
        tone = array.array("f", (0.5 * math.sin(step * i) for i in range(PERIOD)))
        block = array.array("f", bytes(8 * 3200))
        try:
            while not self.stopping:
                at = frame % PERIOD
                block[0::2] = tone[at:at + 3200]
                block[1::2] = array.array("f", [(i % WRAP) / WRAP
                                                for i in range(frame, frame + 3200)])
                self.process.stdin.write(block.tobytes())
                frame += 3200
        except OSError:
            pass  # the sound server is gone

    def stop(self):
        self.stopping = True
        self.process.kill()
        self.process.wait()
        self.thread.join()
        try:
            self.process.stdin.close()
        except OSError:
            pass


class Lines:
    """What a process says, line by line, each with the time at which it came."""

    def __init__(self, stream):
        self.stream, self.lines = stream, []
        self.thread = threading.Thread(target=self.read)
        self.thread.start()

    def read(self):
        for line in self.stream:
            self.lines.append((time.monotonic(), line))

    def wait_for(self, found, seconds=PATIENCE_S):
        """The time of the first line that fits; None: none came."""
        seen, stop = 0, time.monotonic() + seconds
        while time.monotonic() < stop:
            for when, line in self.lines[seen:]:
                seen += 1
                if found(line):
                    return when
            time.sleep(0.01)
        return None


class Device(OnSoundCard):
    def play(self):
        player = Player(self.env)
        self.addCleanup(player.stop)
        stop = time.monotonic() + PATIENCE_S
        while not shell("pactl list short sink-inputs", self.env) and time.monotonic() < stop:
            time.sleep(0.1)
        time.sleep(1.0)
        return player

    def begin(self, *words):
        return self.start([PROGRAM, "trim", "--json", *words])

    @some_tries
    def test_lists_what_is_heard(self):
        self.play()
        done = subprocess.run([PROGRAM, "inputs", "--json"], env=self.env, capture_output=True,
                              timeout=PATIENCE_S, check=False)
        self.assertEqual(done.returncode, DONE, done.stderr)
        self.assertEqual(done.stderr, b"")
        places = {place["name"]: place for place in json.loads(done.stdout)["inputs"]}
        heard = places["cable_in"]
        self.assertEqual(heard["rate_hz"], RATE)
        self.assertAlmostEqual(heard["peak_fs"][0], 0.5, delta=0.01)
        self.assertIn("cable_out", {place["name"] for place
                                    in json.loads(done.stdout)["outputs"]})

    @some_tries
    def test_loses_nothing(self):
        """Every frame arrives unchanged and in order, and the reading is the tone's."""
        self.play()
        process = self.begin("--source", "device:cable_in", "--channel", "left", "--tone", "3150",
                             "--seconds", str(SECONDS), "--record", self.path("heard.wav"))
        out, err = process.communicate(timeout=SECONDS + PATIENCE_S)
        self.assertEqual(process.returncode, DONE, err)
        lines = [json.loads(line) for line in out.splitlines()]
        self.assertEqual(len(lines), round(20 * SECONDS))
        self.assertEqual(lines[-1]["overruns"], 0)
        self.assertNotIn("Input lost", err)
        figures = [line["error_percent"] for line in lines if line["state"] == "reading"]
        worst = max(abs(figure - 0.2) for figure in figures[len(figures) // 4:])
        breaks, frames, silent = self.breaks_in(self.path("heard.wav"))
        print(f"{frames} frames in {SECONDS:g} s, {breaks} breaks; the reading is off by "
              f"{worst:.5f} % at most, {abs(figures[-1] - 0.2):.5f} % at the end"
              + (f"; the player was late with {silent}" if silent else ""))
        self.assertEqual(breaks, 0)
        self.assertEqual(frames, round(SECONDS * RATE))
        self.assertLessEqual(worst, 0.002)

    def breaks_in(self, path):
        """How often the frames' numbers do not go on by one; how many frames there are; how many
        of them are silent. Where the player was late the server puts in silence and then goes on
        with the next frame, so that what is lost on the way shows all the same."""
        with open(path, "rb") as file:
            head = file.read(4096)
            file.seek(head.index(b"data", 12) + 8)
            samples = array.array("f", file.read())
        numbers = [round(right * WRAP) for left, right in zip(samples[::2], samples[1::2])
                   if left or right]
        wrong = sum((b - a) % WRAP != 1 for a, b in zip(numbers, numbers[1:]))
        return wrong, len(samples) // 2, len(samples) // 2 - len(numbers)

    @some_tries
    def test_a_pulled_plug_is_told_and_waited_for(self):
        player = self.play()
        process = self.begin("--source", "device:cable_in", "--record", self.path("kept.wav"))
        out, err = Lines(process.stdout), Lines(process.stderr)
        reading = lambda line: json.loads(line)["state"] == "reading"
        self.assertIsNotNone(out.wait_for(reading))
        pulled = time.monotonic()
        shell("audio_unplug", self.env)
        player.stop()
        told = err.wait_for(lambda line: "is gone" in line)
        self.assertIsNotNone(told, err.lines)
        print(f"told {told - pulled:.2f} s after the plug was pulled")
        self.assertLessEqual(told - pulled, 5.0)  # 2 s, and a busy machine
        self.assertIsNotNone(out.wait_for(lambda line: json.loads(line)["reason"] == "no-input"))
        time.sleep(1.5)
        last = json.loads(out.lines[-1][1])
        self.assertIsNone(last["error_percent"])
        self.assertIsNone(process.poll())
        shell("audio_plug", self.env)
        self.play()
        back = err.wait_for(lambda line: "is back" in line)
        self.assertIsNotNone(back, err.lines)
        begun = len(out.lines)
        self.assertIsNotNone(out.wait_for(lambda line: reading(line) and
                                          json.loads(line)["time_s"] > last["time_s"] +
                                          back - pulled + 5))
        self.assertGreater(len(out.lines), begun)
        process.terminate()
        self.assertEqual(process.wait(PATIENCE_S), DONE)
        for lines in (out, err):
            lines.thread.join()
        times = [json.loads(line)["time_s"] for _, line in out.lines]
        self.assertEqual(times, sorted(set(times)))
        self.assertIn("Input lost", "".join(line for _, line in err.lines))
        _, frames, _ = self.breaks_in(self.path("kept.wav"))
        self.assertGreaterEqual(frames / RATE, times[-1] - (back - pulled) - 4.0)

    @some_tries
    def test_gives_the_ear_what_was_asked_for(self):
        """One program makes the reference tone, another measures it."""
        maker = self.begin("--source", "rehearse:slow-but-steady", "--tone", "3150", "--sound",
                           "reference", "--output", "cable_out", "--sound-level", "-12")
        made = Lines(maker.stdout)
        self.assertIsNotNone(made.wait_for(lambda line: json.loads(line)["state"] == "reading"))
        hearer = self.begin("--source", "device:cable_in", "--tone", "3150", "--seconds", "6")
        out, err = hearer.communicate(timeout=PATIENCE_S)
        self.assertEqual(hearer.returncode, DONE, err)
        last = json.loads(out.splitlines()[-1])
        self.assertAlmostEqual(last["heard_hz"], 3150.0, delta=0.05)
        self.assertAlmostEqual(last["input_peak_fs"], 0.25, delta=0.01)
        maker.terminate()
        self.assertEqual(maker.wait(PATIENCE_S), DONE)
        made.thread.join()

    def test_a_wrong_name_is_answered_with_the_names(self):
        process = self.begin("--source", "device:gramophone")
        _, err = process.communicate(timeout=PATIENCE_S)
        self.assertEqual(process.returncode, AROUND)
        self.assertIn('"cable_in"', err)
        process = self.begin("--source", "rehearse:right-on-speed", "--sound", "beat", "--output",
                             "gramophone")
        out, err = process.communicate(timeout=PATIENCE_S)
        self.assertEqual(process.returncode, AROUND)
        self.assertEqual(out, "")
        self.assertIn('"cable_out"', err)


if __name__ == "__main__":
    if not all(shutil.which(name) for name in ("pulseaudio", "pactl", "pacat")):
        print("no sound server is installed (pulseaudio, pulseaudio-utils, libasound2-plugins)")
        sys.exit(77)
    unittest.main(verbosity=1)
