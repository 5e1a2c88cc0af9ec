#!/usr/bin/env python3
"""What `tape write` puts into a file, against its plan, with SciPy: test_of_tape_write.py PROGRAM.

The plan is a programme written here; where things must stand and how loud they must be is worked out from
docs/programmes.md. Frequency and level of a tone: least squares against sine and cosine over its middle
(scipy.optimize for the frequency); what else there is: the rest, and scipy.signal.welch.
"""
import json
import struct
import subprocess
import unittest

import reference

np = reference.library("numpy", "python3-numpy")
signal = reference.library("scipy.signal", "python3-scipy")
optimize = reference.library("scipy.optimize", "python3-scipy")
EVENSPOOL = reference.program()

MARKER_S, GAP_S, EDGE_S = 2.208, 0.4, 0.005  # docs/programmes.md
TONED = ("speed", "level", "azimuth-tones", "response", "left-only", "right-only", "distortion")


def steps(*tones):
    return {"steps": [dict(zip(("hz", "level_db", "seconds"), tone)) for tone in tones]}


SECTIONS = [
    {"kind": "leader", "name": "leader", "seconds": 1.5},
    {"kind": "speed", "name": "speed", "hz": 3150, "level_db": -6, "seconds": 3},
    {"kind": "level", "name": "level", "hz": 315, "level_db": 0, "seconds": 2},
    {"kind": "azimuth-tones", "name": "azimuth-tones",
     **steps((1000, -10, 1), (10000, -10, 1.25))},
    {"kind": "azimuth-broadband", "name": "broad", "level_db": -20, "seconds": 6},
    {"kind": "response", "name": "response", **steps((315, -20, 1), (31.5, -20, 3), (16000, -20, 1))},
    {"kind": "left-only", "name": "left", **steps((125, -10, 1), (6300, -10, 1))},
    {"kind": "right-only", "name": "right", **steps((3150, -10, 1))},
    {"kind": "silence", "name": "silence", "seconds": 2},
    {"kind": "distortion", "name": "distortion", **steps((315, -6, 1), (315, 4, 1), (315, 8, 1))},
    {"kind": "end", "name": "end"},
]
PROGRAMME = {"schema": "evenspool.programme/1", "name": "check", "about": "", "transport": "cassette",
             "equalisation": "120", "reference_nwb_m": 250, "marker_db": -10, "broad_low_hz": 200,
             "broad_high_hz": 16000, "side_most_s": 1800,
             "sides": [{"sections": SECTIONS}, {"sections": SECTIONS}]}


def plan():
    """(kind, start of the section, [(begin, seconds, hz, level)]), and where the side ends."""
    out, at = [], 0.0
    for section in SECTIONS:
        kind, start = section["kind"], at
        if kind != "leader":
            at += MARKER_S + GAP_S
        bodies = []
        for step in section.get("steps", [section] if "seconds" in section else []):
            bodies.append((at, step["seconds"], step.get("hz"), step.get("level_db")))
            at += step["seconds"]
        if kind not in ("leader", "end"):
            at += GAP_S
        out.append((kind, start, bodies))
    return out, at


def db(ratio):
    return 20.0 * np.log10(ratio)


def fit(samples, hz, rate):
    """Frequency; peak amplitude, and the rms of the rest, at exactly hz."""
    time = np.arange(len(samples)) / rate

    def rest(trial):
        basis = np.stack([np.sin(2 * np.pi * trial * time), np.cos(2 * np.pi * trial * time)], 1)
        factors = np.linalg.lstsq(basis, samples, rcond=None)[0]
        return samples - basis @ factors, np.hypot(*factors)

    best = optimize.minimize_scalar(lambda trial: np.sum(rest(trial)[0] ** 2),
                                    bounds=(hz - 0.2, hz + 0.2), method="bounded",
                                    options={"xatol": 1e-7})
    left, amplitude = rest(hz)
    return best.x, amplitude, np.sqrt(np.mean(left ** 2))


class Written(reference.Case):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        with open(cls.path("check.json"), "w", encoding="utf-8") as file:
            json.dump(PROGRAMME, file)

    def write(self, name, *words):
        done = subprocess.run([EVENSPOOL, "tape", "write", "--programme", self.path("check.json"),
                               "-o", self.path(name), "--force", *words],
                              capture_output=True, text=True, timeout=120, check=False,
                              env=reference.surroundings())
        self.assertEqual(done.returncode, 0, done.stderr)
        return done.stdout

    def read(self, name):
        with open(self.path(name), "rb") as file:
            content = file.read()
        form = content.index(b"fmt ") + 8
        channels, rate = struct.unpack_from("<HI", content, form + 2)
        self.assertEqual((channels, struct.unpack_from("<H", content, form + 14)[0]), (2, 24))
        data = content.index(b"data", form)
        raw = content[data + 8:data + 8 + struct.unpack_from("<I", content, data + 4)[0]]
        whole = np.frombuffer(raw, np.uint8).reshape(-1, 3).astype(np.int32)
        value = whole[:, 0] | whole[:, 1] << 8 | whole[:, 2] << 16
        value = np.where(value >= 1 << 23, value - (1 << 24), value)
        return value.reshape(-1, 2) / float(1 << 23), rate

    def check_tone(self, sound, rate, kind, body, reference_dbfs):
        begin, seconds, hz, level = body
        inner = slice(round((begin + 0.02) * rate), round((begin + seconds - 0.02) * rate))
        for channel, silent in ((0, "right-only"), (1, "left-only")):
            part = sound[inner, channel]
            if kind == silent:
                self.assertEqual(np.max(np.abs(part)), 0.0)
                continue
            heard, amplitude, rest = fit(part, hz, rate)
            self.assertAlmostEqual(heard, hz, delta=1e-4)
            self.assertAlmostEqual(db(amplitude), reference_dbfs + level, delta=0.002)
            # rounding to 24 bit, 1 / sqrt(12) of a step, and before it to float, is all there is
            self.assertLess(db(rest), db(1.0 / np.sqrt(12.0) / (1 << 23)) + 3.0)

    def check_file(self, name, reference_dbfs, rate_hz):
        sound, rate = self.read(name)
        self.assertEqual(rate, rate_hz)
        sections, end = plan()
        self.assertEqual(len(sound), round(end * rate))
        for kind, start, bodies in sections:
            if kind != "leader":
                self.check_marker(sound, rate, start)
            for body in bodies:
                if kind in TONED:
                    self.check_tone(sound, rate, kind, body, reference_dbfs)
                elif kind in ("leader", "silence"):
                    part = sound[round(body[0] * rate):round((body[0] + body[1]) * rate)]
                    self.assertEqual(np.max(np.abs(part)), 0.0)
        return sound, rate, sections

    def check_marker(self, sound, rate, start):
        """Sound from there on, for as long as it says, then the gap: nothing."""
        begin, end = round(start * rate), round((start + MARKER_S) * rate)
        self.assertEqual(np.max(np.abs(sound[begin - round(0.005 * rate):begin])), 0.0)
        part = sound[begin:end]
        self.assertEqual(np.max(np.abs(part[:, 0] - part[:, 1])), 0.0)
        rms = np.sqrt(np.mean(part[:, 0].reshape(-1)[: len(part) // 48 * 48].reshape(48, -1) ** 2, 1))
        self.assertGreater(np.min(rms), 0.25 * np.max(rms))
        self.assertEqual(np.max(np.abs(sound[end:end + round(0.39 * rate)])) if end < len(sound)
                         else 0.0, 0.0)

    def test_tones_stand_where_and_as_loud_as_the_plan_says(self):
        self.write("a.wav")
        self.check_file("a.wav", -12.0, 48000)

    def test_other_rates_and_reference_levels(self):
        for rate, level in ((44100, -18.0), (96000, -8.0)):
            self.write("b.wav", "--rate", str(rate), "--reference", str(level), "--side", "b")
            self.check_file("b.wav", level, rate)

    def test_broadband_is_as_strong_and_as_wide_as_it_says(self):
        """rms against the rms of a sine at reference level; power by welch inside and outside."""
        self.write("a.wav")
        sound, rate, sections = self.check_file("a.wav", -12.0, 48000)
        (begin, seconds, _, level), = next(b for kind, _, b in sections
                                           if kind == "azimuth-broadband")
        part = sound[round((begin + 0.01) * rate):round((begin + seconds - 0.01) * rate)]
        self.assertEqual(np.max(np.abs(part[:, 0] - part[:, 1])), 0.0)
        rms = np.sqrt(np.mean(part[: 5 * rate, 0] ** 2))  # whole seconds: it repeats every one
        self.assertAlmostEqual(db(rms), -12.0 + level - db(np.sqrt(2.0)), delta=0.01)
        hz, power = signal.welch(part[:, 0], rate, "blackmanharris", 8192, detrend=False)
        inside = (hz > 190) & (hz < 16010)
        outside = (hz < 150) | (hz > 16100)
        self.assertLess(db(np.sqrt(np.max(power[outside]) / np.median(power[inside]))), -60.0)
        octaves = [np.mean(power[(hz >= low) & (hz < 2 * low)]) for low in (250, 1000, 4000)]
        for quiet, loud in zip(octaves[1:], octaves):  # two octaves on: 3 dB each
            self.assertAlmostEqual(10.0 * np.log10(loud / quiet), 6.02, delta=1.0)

    def test_edges_do_not_click(self):
        """A 315 Hz tone cut off hard spreads over all frequencies; with 5 ms of raised cosine hardly
        anything is left above 4 kHz (0.1 ms of a 20 kHz click at full level would be -40 dB)."""
        self.write("a.wav")
        sound, rate, sections = self.check_file("a.wav", -12.0, 48000)
        high = signal.sosfiltfilt(signal.butter(8, 4000, "highpass", fs=rate, output="sos"),
                                  sound[:, 0])
        _, _, bodies = next(s for s in sections if s[0] == "distortion")
        for begin, seconds, _, level in bodies:
            for edge in (begin, begin + seconds):
                near = high[round((edge - 0.03) * rate):round((edge + 0.03) * rate)]
                self.assertLess(db(np.max(np.abs(near))) - (-12.0 + level), -70.0)

    def test_flac_holds_the_same_samples(self):
        sox = reference.tool("sox", "sox")
        self.write("a.wav")
        self.write("a.flac")
        subprocess.run([sox, self.path("a.flac"), "-b", "24", self.path("from_flac.wav")], check=True,
                       timeout=120)
        once, rate = self.read("a.wav")
        twice, other = self.read("from_flac.wav")
        self.assertEqual(rate, other)
        self.assertTrue(np.array_equal(once, twice))

    def test_the_cue_sheet_tells_the_same_plan(self):
        cues = json.loads(self.write("a.wav", "--json"))
        self.assertEqual(cues["schema"], "evenspool.cues/1")
        self.assertEqual((cues["reference_dbfs"], cues["samplerate_hz"]), (-12, 48000))
        sections, end = plan()
        side, = cues["sides"]
        self.assertAlmostEqual(side["length_s"], end, places=6)
        self.assertEqual([s["kind"] for s in side["sections"]], [kind for kind, _, _ in sections])
        for told, (kind, start, bodies) in zip(side["sections"], sections):
            self.assertAlmostEqual(told["start_s"], start, places=6)
            self.assertEqual(told["marker_s"], None if kind == "leader" else told["start_s"])
            for step, body in zip(told["steps"], bodies):
                self.assertAlmostEqual(step["start_s"], body[0], places=6)
                self.assertEqual((step["seconds"], step["hz"], step["level_db"]), body[1:])


if __name__ == "__main__":
    unittest.main()
