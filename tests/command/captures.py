"""Captures made for the tests of the command, without any of the project's code."""
import math
import random
import struct

RATE = 48000


def tone(seconds, hz=3150.0, level=0.3, rate=RATE, harmonics=()):
    """One channel of a sine; harmonics: (number, share) of further ones."""
    parts = [(1, 1.0), *harmonics]
    step = 2 * math.pi * hz / rate
    return [level * sum(share * math.sin(n * step * i) for n, share in parts)
            for i in range(int(seconds * rate))]


def silence(seconds, rate=RATE):
    return [0.0] * int(seconds * rate)


def music(seconds, rate=RATE):
    """Chords that change twice a second, each note with harmonics, over a little noise."""
    source = random.Random(7)
    out, length = [], rate // 2
    for _ in range(int(seconds * 2)):
        notes = [220.0 * 2 ** (source.randrange(25) / 12) for _ in range(4)]
        for i in range(length):
            fade = math.exp(-3.0 * i / length)
            out.append(fade * 0.1 * sum(math.sin(2 * math.pi * n * i / rate)
                                        + 0.4 * math.sin(4 * math.pi * n * i / rate) for n in notes)
                       + source.uniform(-0.01, 0.01))
    return out


def header(data_bytes, rate=RATE, channels=1, bits=16, tag=1, riff=None, data=None):
    """The head of a WAV file; riff, data: other lengths than the honest ones."""
    block = channels * bits // 8
    return (b"RIFF" + struct.pack("<I", 36 + data_bytes if riff is None else riff) + b"WAVEfmt "
            + struct.pack("<IHHIIHH", 16, tag, channels, rate & 0xFFFFFFFF,
                          (rate * block) & 0xFFFFFFFF, block & 0xFFFF, bits)
            + b"data" + struct.pack("<I", data_bytes if data is None else data))


def pcm16(samples, channels=1):
    """16 bit; the same samples in every channel."""
    whole = [max(-32768, min(32767, round(32767 * x))) for x in samples]
    return struct.pack(f"<{len(whole) * channels}h", *(x for x in whole for _ in range(channels)))


def wav16(samples, rate=RATE, channels=1, **lengths):
    body = pcm16(samples, channels)
    return header(len(body), rate, channels, **lengths) + body


def wav_float(samples, rate=RATE):
    body = struct.pack(f"<{len(samples)}f", *samples)
    return header(len(body), rate, 1, 32, 3) + body
