#!/usr/bin/env python3
"""Files that sox does not write, byte by byte from their descriptions: test_of_containers.py PROGRAM.

RF64: EBU Tech 3306, with its sizes in a ds64 chunk; WAVE_FORMAT_EXTENSIBLE: Microsoft's
description of multiple channel audio; both from memory. Tones by numpy; the speed within 0.001 %.
"""
import struct
import unittest

import reference
from reference import Case

np = reference.library("numpy", "python3-numpy")
EVENSPOOL = reference.program()

ERROR = 0.0143
RATE_HZ, SECONDS = 44100, 20
GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")  # of the codings that have a number
PCM, FLOAT, EXTENSIBLE = 1, 3, 0xFFFE


def tone(channels):
    time_s = np.arange(RATE_HZ * SECONDS) / RATE_HZ
    one = 0.4 * np.sin(2.0 * np.pi * np.mod(3150.0 * (1.0 + ERROR) * time_s, 1.0))
    return np.repeat(one[:, None], channels, axis=1)


def coded(frames, bits, floating):
    if floating:
        return frames.astype("<f4" if bits == 32 else "<f8").tobytes()
    if bits == 8:
        return (np.round(frames * 127.0) + 128.0).astype("u1").tobytes()
    whole = np.round(frames * (2.0 ** (bits - 1) - 1.0)).astype("<i4")
    if bits == 24:
        return whole.astype("<i4").reshape(-1, 1).view("u1").reshape(-1, 4)[:, :3].tobytes()
    return whole.astype("<i2" if bits == 16 else "<i4").tobytes()


def form(channels, bits, floating, extensible):
    coding = FLOAT if floating else PCM
    wide = bits // 8 * channels
    head = struct.pack("<HHIIHH", EXTENSIBLE if extensible else coding, channels, RATE_HZ,
                       RATE_HZ * wide, wide, bits)
    if extensible:
        head += struct.pack("<HHIH", 22, bits, 0, coding) + GUID_TAIL
    return b"fmt " + struct.pack("<I", len(head)) + head


def riff(channels, bits, floating=False, extensible=False, before=b""):
    data = coded(tone(channels), bits, floating)
    body = b"WAVE" + before + form(channels, bits, floating, extensible)
    body += b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


def rf64(channels, bits, floating=False, extensible=False):
    data = coded(tone(channels), bits, floating)
    described = form(channels, bits, floating, extensible)
    size = 4 + 36 + len(described) + 8 + len(data)
    sizes = struct.pack("<QQQI", size, len(data), len(data) // (bits // 8 * channels), 0)
    return (b"RF64" + b"\xff\xff\xff\xff" + b"WAVE" + b"ds64" + struct.pack("<I", len(sizes)) + sizes
            + described + b"data" + b"\xff\xff\xff\xff" + data)


class Containers(Case):
    def measure(self, name, content, channels, bits):
        with open(self.path(name), "wb") as out:
            out.write(content)
        for words, given in (((self.path(name),), None), (("-",), content)):
            if given and content[:4] == b"RF64":
                continue  # standard input: WAV or raw samples
            document = self.check(EVENSPOOL, "--tone", "3150", *words, given=given)
            self.near(document["speed"]["error_percent"], 100.0 * ERROR, 0.001, name)
            self.near(document["capture"]["duration_s"], SECONDS, 1e-6, name)
            self.assertEqual(document["capture"]["bits"], bits, name)
            self.assertEqual(document["capture"]["channels"], channels, name)

    def test_rf64(self):
        for channels, bits, floating in ((1, 16, False), (2, 24, False), (6, 32, True),
                                         (1, 64, True)):
            with self.subTest(channels=channels, bits=bits):
                name = f"rf64-{channels}-{bits}.wav"
                self.measure(name, rf64(channels, bits, floating), channels, bits)
        self.measure("rf64x.wav", rf64(2, 24, extensible=True), 2, 24)

    def test_extensible_wav(self):
        for channels, bits, floating in ((2, 16, False), (4, 24, False), (1, 32, True)):
            with self.subTest(channels=channels, bits=bits):
                name = f"extensible-{channels}-{bits}.wav"
                self.measure(name, riff(channels, bits, floating, True), channels, bits)

    def test_wav_with_chunks_before_the_sound(self):
        listed = b"INFOISFT" + struct.pack("<I", 6) + b"bench\0"
        before = b"LIST" + struct.pack("<I", len(listed)) + listed
        before += b"bext" + struct.pack("<I", 602) + bytes(602)
        before += b"odd!" + struct.pack("<I", 3) + b"abc\0"  # odd sizes are padded
        self.measure("chunks.wav", riff(2, 24, before=before), 2, 24)

    def test_plain_codings(self):
        for bits, floating in ((8, False), (16, False), (24, False), (32, False), (32, True),
                               (64, True)):
            with self.subTest(bits=bits, floating=floating):
                self.measure(f"plain-{bits}-{floating}.wav", riff(1, bits, floating), 1, bits)


if __name__ == "__main__":
    unittest.main()
