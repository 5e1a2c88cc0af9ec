"""Throughput, memory and start-up of `evenspool check`.

Times are ratios or medians of one run on this machine; promises: a 60 min 48 kHz 24-bit stereo file
in at most 1.5 times what libsndfile takes merely to read it, 32 MiB resident whatever the length, a 10 s
file in under 50 ms.
"""
import array
import math
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time

program, bare_reader = sys.argv[1:3]


def run(words, **more):
    start = time.monotonic()
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL, **more)
    return time.monotonic() - start


def render(folder, name, seconds):
    path = os.path.join(folder, name)
    run([program, "rehearse", "slow-but-steady", "-o", path, "--seconds", str(seconds)],
        stderr=subprocess.DEVNULL)
    return path


def throughput(folder):
    path = render(folder, "hour.wav", 3600)
    run([bare_reader, path])  # into the cache
    ratios, reads, checks = [], [], []
    for _ in range(5):
        reads.append(float(subprocess.run([bare_reader, path], check=True, capture_output=True).stdout))
        checks.append(run([program, "check", "--json", path]))
        ratios.append(checks[-1] / reads[-1])
    ratio = statistics.median(ratios)
    print(f"  60 min, 48 kHz, 24 bit, stereo: read {min(reads):.2f} s, checked {min(checks):.2f} s; "
          f"ratio {ratio:.2f} (median of 5, best {min(ratios):.2f}; promise 1.5)")
    os.unlink(path)
    return ratio <= 1.5


def resident_kib(feed):
    """Largest resident size of one check of a raw stream, in KiB, by a child of its own."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(writer)
        os.dup2(reader, 0)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        os.execv(program, [program, "check", "--json", "--raw", "s16le,8000,1", "-"])
    os.close(reader)
    with os.fdopen(writer, "wb") as out:
        feed(out)
    _, status, usage = os.wait4(child, 0)
    assert os.waitstatus_to_exitcode(status) == 0
    return usage.ru_maxrss


def memory():
    second = array.array("h", (round(8000 * math.sin(2 * math.pi * 3150 * i / 8000)) for i in range(8000)))
    if sys.byteorder == "big":
        second.byteswap()
    minute = second.tobytes() * 60
    short = resident_kib(lambda out: out.write(minute))
    long = resident_kib(lambda out: [out.write(minute) for _ in range(600)])
    print(f"  resident: {short / 1024:.1f} MiB for 1 min, {long / 1024:.1f} MiB for 10 h (promise 32, the same)")
    return max(short, long) <= 32 * 1024 and abs(long - short) <= 1024


def start_up(folder):
    path = render(folder, "short.wav", 10)
    times = [run([program, "check", "--json", path]) for _ in range(31)]
    middle = statistics.median(times)
    print(f"  10 s file: {1e3 * middle:.0f} ms (median of 31, best {1e3 * min(times):.0f}; promise 50)")
    return middle < 0.050


print("evenspool check:")
with tempfile.TemporaryDirectory() as folder:
    kept = [throughput(folder), memory(), start_up(folder)]
sys.exit(0 if all(kept) else 1)
