#!/usr/bin/env python3
"""The manual pages and completion scripts in the tree are what the program makes of its tables:
test_of_generated.py PROGRAM ROOT [--write]. `ninja pages` writes them anew."""
import os
import shutil
import subprocess
import sys
import unittest

PROGRAM, ROOT = map(os.path.abspath, sys.argv[1:3])
WRITE = "--write" in sys.argv


def made(*words):
    return subprocess.run([PROGRAM, *words], capture_output=True, check=True).stdout


def verbs():
    lines = made("--help").decode().splitlines()
    return [line.split()[0] for line in lines
            if line.startswith("  ") and line[2:3].isalpha()]


def files():
    """name in the tree -> content"""
    out = {"man/evenspool.1": made("help", "--man")}
    for verb in verbs():
        out[f"man/evenspool-{verb}.1"] = made("help", "--man", verb)
    for shell, name in (("bash", "evenspool.bash"), ("zsh", "_evenspool"),
                        ("fish", "evenspool.fish")):
        out[f"man/completion/{name}"] = made("help", "--completion", shell)
    return out


def shell_accepts(program, *options):
    """Does the shell itself find no fault? None when it is not here."""
    if not shutil.which(program):
        return None
    return subprocess.run([program, *options], capture_output=True, text=True, check=False,
                          env={**os.environ, "LC_ALL": "C"})  # any other may not be installed


class Generated(unittest.TestCase):
    def test_are_up_to_date(self):
        for name, content in files().items():
            with open(os.path.join(ROOT, name), "rb") as file:
                self.assertEqual(file.read(), content, f"{name} is old: run `ninja pages`")

    def test_are_all_that_is_there(self):
        there = set()
        for folder in ("man", "man/completion"):
            for name in os.listdir(os.path.join(ROOT, folder)):
                if os.path.isfile(os.path.join(ROOT, folder, name)):
                    there.add(f"{folder}/{name}")
        self.assertEqual(there, set(files()))

    def test_pages_are_good_mdoc(self):
        for name in files():
            if not name.endswith(".1"):
                continue
            path = os.path.join(ROOT, name)
            told = shell_accepts("mandoc", "-T", "lint", "-W", "warning", path)
            if told is None:
                told = shell_accepts("groff", "-mdoc", "-Tascii", "-ww", "-z", path)
            if told is None:
                self.skipTest("neither mandoc nor groff is here")
            self.assertEqual((told.stdout, told.stderr, told.returncode), ("", "", 0), name)

    def test_shells_accept_their_scripts(self):
        for shell, name in (("bash", "evenspool.bash"), ("zsh", "_evenspool"),
                            ("fish", "evenspool.fish")):
            told = shell_accepts(shell, "-n", os.path.join(ROOT, "man/completion", name))
            if told:
                self.assertEqual((told.stderr, told.returncode), ("", 0), name)

    def complete(self, *words):
        """What bash would offer for the last word."""
        script = os.path.join(ROOT, "man/completion/evenspool.bash")
        quoted = " ".join(f"'{word}'" for word in words)
        done = subprocess.run(
            ["bash", "-c", f". '{script}'; COMP_WORDS=({quoted}); COMP_CWORD={len(words) - 1}; "
             '_evenspool; printf "%s\\n" "${COMPREPLY[@]}"'],
            capture_output=True, text=True, check=True,
            env={"PATH": os.path.dirname(PROGRAM) + ":" + os.environ["PATH"]})
        return done.stdout.split()

    def test_bash_completes(self):
        self.assertEqual(self.complete("evenspool", "che"), ["check"])
        self.assertEqual(self.complete("evenspool", "check", "--tap"),
                         ["--tape-error", "--tape-u95", "--tape"])
        self.assertEqual(self.complete("evenspool", "check", "--channel", "r"), ["right"])
        self.assertEqual(self.complete("evenspool", "check", "--tone", ""), [])
        self.assertEqual(self.complete("evenspool", "help", "re"), ["rehearse"])
        self.assertEqual(self.complete("evenspool", "rehearse", "slow"), ["slow-but-steady"])


if __name__ == "__main__":
    if WRITE:
        for target, text in files().items():
            os.makedirs(os.path.dirname(os.path.join(ROOT, target)), exist_ok=True)
            with open(os.path.join(ROOT, target), "wb") as out:
                out.write(text)
    else:
        del sys.argv[1:]
        unittest.main(verbosity=1)
