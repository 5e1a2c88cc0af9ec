#!/usr/bin/env python3
"""The scripts that others lean on: the test counter, and the installer on imaginary machines."""
import json
import os
import shutil
import subprocess
import sys
import tempfile
import unittest

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))

CMOCKA_OUT = "[==========] Running 5 test(s).\n[==========] 5 test(s) run.\n"
CMOCKA_MIXED = ("[  PASSED  ] 2 test(s).\n[  SKIPPED ] 1 test(s), listed below:\n[  SKIPPED ] a\n"
                "\n 1 SKIPPED TEST(S)\n[  FAILED  ] 2 test(s), listed below:\n[  FAILED  ] b\n"
                "[  FAILED  ] c\n\n 2 FAILED TEST(S)\n")


class Counter(unittest.TestCase):
    def lines(self, *entries):
        with tempfile.NamedTemporaryFile("w", suffix=".json") as log:
            for result, out, err in entries:
                log.write(json.dumps({"name": "t", "result": result, "stdout": out,
                                      "stderr": err}) + "\n")
            log.flush()
            done = subprocess.run([sys.executable, os.path.join(ROOT, "scripts/count-tests"),
                                   log.name], capture_output=True, text=True, check=False)
        return done.stdout.splitlines(), done.returncode

    def count(self, *entries):
        lines, code = self.lines(*entries)
        return lines[-1], code

    def test_what_failed_is_told_by_its_name(self):
        page = "ok - a\nNOT OK - the page is there\nok - b\n1 passed, 1 failed\n"
        lines, _ = self.lines(("OK", "", ""), ("FAIL", page, ""), ("FAIL", CMOCKA_OUT, CMOCKA_MIXED))
        self.assertEqual(lines, ["failed: t (FAIL after 0 s)", "  NOT OK - the page is there",
                                 "failed: t (FAIL after 0 s)", "  [  FAILED  ] b",
                                 "  [  FAILED  ] c", "3 passed, 3 failed, 1 skipped"])

    def test_single_programs(self):
        self.assertEqual(self.count(("OK", "", ""), ("OK", "hello", "")),
                         ("2 passed, 0 failed, 0 skipped", 0))

    def test_a_skipped_program_is_not_passed(self):
        self.assertEqual(self.count(("OK", "", ""), ("SKIP", "", "")),
                         ("1 passed, 0 failed, 1 skipped", 0))

    def test_cmocka_counts_each_test(self):
        self.assertEqual(self.count(("OK", CMOCKA_OUT, "[  PASSED  ] 5 test(s).\n")),
                         ("5 passed, 0 failed, 0 skipped", 0))
        self.assertEqual(self.count(("FAIL", CMOCKA_OUT, CMOCKA_MIXED)),
                         ("2 passed, 2 failed, 1 skipped", 1))

    def test_cmocka_that_skips_all_passes_none(self):
        err = "[  PASSED  ] 0 test(s).\n[  SKIPPED ] 5 test(s), listed below:\n"
        self.assertEqual(self.count(("OK", CMOCKA_OUT, err)), ("0 passed, 0 failed, 5 skipped", 1))

    def test_several_groups_in_one_program(self):
        self.assertEqual(self.count(("OK", CMOCKA_OUT * 2, "[  PASSED  ] 5 test(s).\n" * 2)),
                         ("10 passed, 0 failed, 0 skipped", 0))

    def test_unittest_counts_each_test(self):
        self.assertEqual(self.count(("OK", "", "Ran 9 tests in 0.1s\n\nOK (skipped=2)\n")),
                         ("7 passed, 0 failed, 2 skipped", 0))
        self.assertEqual(self.count(("FAIL", "", "Ran 9 tests in 0.1s\n\nFAILED (failures=1, "
                                     "errors=2)\n")), ("6 passed, 3 failed, 0 skipped", 1))

    def test_a_crash_after_all_passed_is_a_failure(self):
        for result in ("FAIL", "TIMEOUT", "ERROR", "UNEXPECTEDPASS", "INTERRUPT"):
            self.assertEqual(self.count((result, CMOCKA_OUT, "[  PASSED  ] 5 test(s).\n")),
                             ("5 passed, 1 failed, 0 skipped", 1))
            self.assertEqual(self.count((result, "", "")), ("0 passed, 1 failed, 0 skipped", 1))

    def test_nothing_run_is_no_success(self):
        self.assertEqual(self.count(), ("0 passed, 0 failed, 0 skipped", 1))


class Installer(unittest.TestCase):
    """scripts/bootstrap with imaginary dpkg-query, apt-get, id and sudo; nothing is installed."""

    def setUp(self):
        place = tempfile.TemporaryDirectory()
        self.addCleanup(place.cleanup)
        self.place = place.name
        for tool in ("sh", "awk", "grep", "tail", "mktemp", "rm", "dirname", "wc", "env"):
            os.symlink(f"/usr/bin/{tool}" if os.path.exists(f"/usr/bin/{tool}") else f"/bin/{tool}",
                       os.path.join(self.place, tool))
        self.machine("id", "echo ${WHO:-0}")
        for command in ("node", "npm"): # these may come from anywhere
            self.machine(command, "")
        self.machine("apt-cache", "for p in $APT_KNOWS; do echo '  Candidate: 1.0'; done")
        self.machine("apt-get", 'echo "apt-get $*" >>"$LOG"\n'
                     'case "$*" in *install*) [ -z "$APT_FAILS" ] || exit 100 ;; esac')

    def machine(self, name, text):
        path = os.path.join(self.place, name)
        with open(path, "w", encoding="utf-8") as out:
            out.write(f"#!/bin/sh\n{text}\n")
        os.chmod(path, 0o755)

    def dpkg(self, absent):
        self.machine("dpkg-query", "shift; shift; shift\nfor p; do case $p in %s) ;; "
                     '*) printf "%%s=installed " $p ;; esac; done' % ("|".join(absent) or "''"))

    def run_it(self, *groups, **env):
        log = os.path.join(self.place, "log")
        done = subprocess.run([os.path.join(self.place, "sh"),
                               os.path.join(ROOT, "scripts/bootstrap"), *groups],
                              env={"PATH": self.place, "LOG": log, "TMPDIR": self.place, **env},
                              stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
        said = []
        if os.path.exists(log):
            with open(log, encoding="utf-8") as text:
                said = text.read().splitlines()
        return done, said

    def test_nothing_missing_says_and_does_nothing(self):
        self.dpkg([])
        done, said = self.run_it("build")
        self.assertEqual((done.returncode, done.stderr, said), (0, "", []))

    def test_root_installs_only_what_is_missing(self):
        self.dpkg(["meson", "sox"])
        done, said = self.run_it("build", "test", APT_KNOWS="meson sox")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("installing from Debian: meson sox\n", done.stderr)
        self.assertEqual(len(said), 1, said)
        self.assertTrue(said[0].endswith("install -y --no-install-recommends meson sox"), said)

    def test_unknown_packages_refresh_the_lists_first(self):
        self.dpkg(["meson"])
        done, said = self.run_it("build", APT_KNOWS="")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual([s.split()[-1] for s in said], ["update", "meson"])

    def test_a_failed_install_refreshes_once_then_gives_up(self):
        self.dpkg(["meson"])
        done, said = self.run_it("build", APT_KNOWS="meson", APT_FAILS="yes")
        self.assertEqual(done.returncode, 4)
        self.assertEqual([s.split()[-1] for s in said], ["meson", "update", "meson"])
        self.assertIn("install by hand: meson ", done.stderr)

    def test_without_root_and_sudo_it_explains(self):
        self.dpkg(["meson"])
        done, said = self.run_it("build", WHO="1000")
        self.assertEqual((done.returncode, said), (4, []))
        self.assertIn("there is no sudo. Please install by hand: meson ", done.stderr)

    def test_with_sudo_it_uses_it(self):
        self.dpkg(["meson"])
        self.machine("sudo", 'case $1 in -*) exit 0 ;; esac; echo "sudo" >>"$LOG"; exec "$@"')
        done, said = self.run_it("build", WHO="1000", APT_KNOWS="meson")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual(said[0], "sudo")
        self.assertIn("with sudo: meson", done.stderr)

    def test_sudo_that_wants_a_password_nobody_can_type(self):
        self.dpkg(["meson"])
        self.machine("sudo", "exit 1")
        done, _ = self.run_it("build", WHO="1000", APT_KNOWS="meson")
        self.assertEqual(done.returncode, 4)
        self.assertIn("password", done.stderr)

    def test_not_debian(self):
        done, _ = self.run_it("test")
        self.assertEqual(done.returncode, 4)
        self.assertIn("not a Debian system", done.stderr)
        self.assertIn("python3-scipy", done.stderr)

    def test_a_command_from_elsewhere_will_do(self):
        self.dpkg(["nodejs", "npm"])
        done, said = self.run_it("build")
        self.assertEqual((done.returncode, done.stderr, said), (0, "", []))
        os.unlink(os.path.join(self.place, "node"))
        done, said = self.run_it("build", APT_KNOWS="nodejs")
        self.assertTrue(said[0].endswith("install -y --no-install-recommends nodejs"), said)

    def test_a_group_that_does_not_exist(self):
        self.dpkg([])
        self.assertEqual(self.run_it("attic")[0].returncode, 2)
        self.assertEqual(self.run_it()[0].returncode, 2)


class Sanitizers(unittest.TestCase):
    """scripts/sanitize with a build and a test runner that do as they are told."""

    def run_it(self, runner):
        with tempfile.TemporaryDirectory() as place:
            os.mkdir(os.path.join(place, "scripts"))
            shutil.copy(os.path.join(ROOT, "scripts/sanitize"), os.path.join(place, "scripts"))
            for name, body in (("scripts/build", 'mkdir -p "$1"'), ("meson", runner)):
                with open(os.path.join(place, name), "w") as out:
                    out.write("#!/bin/sh\n" + body + "\n")
                os.chmod(out.name, 0o755)
            return subprocess.run([os.path.join(place, "scripts/sanitize"), "b"], cwd=place,
                                  env={"PATH": place + ":/usr/bin:/bin"}, capture_output=True,
                                  text=True, check=False)

    def test_tests_that_pass_without_a_report(self):
        done = self.run_it("exit 0")
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        self.assertEqual(done.stdout, "sanitize: address,undefined\nsanitize: thread\n")

    def test_a_test_that_fails(self):
        self.assertEqual(self.run_it('case "$*" in *b-asan*) exit 1 ;; esac').returncode, 1)
        self.assertEqual(self.run_it('case "$*" in *b-tsan*) exit 1 ;; esac').returncode, 1)

    def test_a_report_that_no_test_noticed(self):
        for options in ("ASAN_OPTIONS", "TSAN_OPTIONS"):
            done = self.run_it(f"""
                case "$*" in *b-{options[0].lower()}san*) ;; *) exit 0 ;; esac
                path=$(echo "${options}" | tr : '\\n' | sed -n 's/^log_path=//p')
                echo "one block lost" >"$path.17" """)
            self.assertEqual(done.returncode, 1)
            self.assertIn("one block lost", done.stderr)


if __name__ == "__main__":
    unittest.main()
