"""Throughput and memory of `evenspool tape read`.

A whole side of a C60 (30 min, 48 kHz, 24 bit, stereo) is read in at most 3 times what libsndfile takes merely to read
the file, in 32 MiB. Times are ratios of one run on this machine, which has to have a second core to spare.
"""
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time

program, bare_reader = sys.argv[1:3]
RATIO_MOST, MEMORY_MOST_MIB = 3.0, 32.0


def run(words, **more):
    start = time.monotonic()
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL, **more)
    return time.monotonic() - start


def main():
    with tempfile.TemporaryDirectory(prefix="evenspool-") as folder:
        path = os.path.join(folder, "side.wav")
        run([program, "tape", "write", "--programme", "cassette", "-o", path])
        run([bare_reader, path])  # into the cache
        ratios, reads, tapes = [], [], []
        for _ in range(5):
            done = subprocess.run([bare_reader, path], check=True, capture_output=True)
            reads.append(float(done.stdout))
            tapes.append(run([program, "tape", "read", "--json", path]))
            ratios.append(tapes[-1] / reads[-1])
    ratio = statistics.median(ratios)
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"A side of a C60: file read in {min(reads):.2f} s, tape read in {min(tapes):.2f} s, "
          f"{ratio:.2f} times (median of 5; best {min(ratios):.2f}); {memory:.0f} MiB")
    kept = ratio <= RATIO_MOST and memory <= MEMORY_MOST_MIB
    print(f"  promise: at most {RATIO_MOST:g} times, {MEMORY_MOST_MIB:g} MiB: "
          f"{'kept' if kept else 'BROKEN'}")
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
