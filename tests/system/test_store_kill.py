#!/usr/bin/env python3
"""Kills a writer of records at random moments and looks for what it had acknowledged:
test_store_kill.py WRITER FIXTURES [KILLS]

After every kill a copy of what was left is read by another SQLite than the program's own calls:
integrity_check, foreign keys, every acknowledged record there with its content, every transaction
whole or absent. The file itself goes back to the writer as the kill left it. A quarter as many
kills go to bringing an older file up to date. Fixed seed; the moments vary with the machine.

A kill does not take the disk's power away: what SQLite's synchronous=EXTRA adds is not shown here.
"""
import math
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

NUDGES, ANSWERS, LINES = 3, 3, 4  # as in kill_writer.c
LATEST_S = 0.1
UPGRADE_S = 0.003, 0.2  # as many moments in one tenfold as in the next: disks differ


def killed_after(command, delay_s, at_work):
    """What the command had said when it was killed, but for a line that is not whole. The delay
    counts from its start, or, at_work, from the first thing it says."""
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          bufsize=0) as process:
        first = process.stdout.readline() if at_work else b""
        time.sleep(delay_s)
        process.send_signal(signal.SIGKILL)
        said, complaint = process.communicate()
        if process.returncode != -signal.SIGKILL:
            raise SystemExit(f"the writer ended by itself: {complaint.decode()}")
    said = first + said
    whole = said[:said.rfind(b"\n") + 1]
    return whole.decode().splitlines()


class Expected:
    """What was acknowledged so far."""

    def __init__(self):
        self.there = {kind: {} for kind in ("deck", "reading", "play", "job", "anchor")}
        self.gone = set()
        self.count = 0

    def take(self, lines):
        for line in lines:
            kind, number, *rest = line.split(" ", 2)
            number = int(number)
            if kind == "removing":
                self.there["deck"].pop(number, None)
            elif kind == "removed":
                self.gone.add(number)
                self.count += 1
            else:
                self.there[kind][number] = rest[0] if rest else None
                self.count += 1


def rows(db, sql):
    return db.execute(sql).fetchall()


def check_health(db):
    found = rows(db, "PRAGMA integrity_check")
    assert found == [("ok",)], found
    assert rows(db, "PRAGMA foreign_key_check") == []


def check_whole(db):
    """Every transaction is there as a whole or not at all."""
    halves = {
        "a deck without an epoch": "SELECT id FROM deck WHERE id NOT IN (SELECT deck FROM epoch)",
        "a job in parts": f"""SELECT id FROM job WHERE as_found IS NULL
            OR (SELECT count(*) FROM nudge n WHERE n.job = job.id) <> {NUDGES}
            OR (SELECT count(*) FROM remark r WHERE r.job = job.id) <> 1""",
        "an anchor in parts": f"""SELECT id FROM anchor
            WHERE (SELECT count(*) FROM answer a WHERE a.anchor = anchor.id) <> {ANSWERS}
            OR (SELECT count(*) FROM budget b WHERE b.anchor = anchor.id) <> {LINES}""",
    }
    for what, sql in halves.items():
        assert rows(db, sql) == [], f"{what}: {rows(db, sql)}"


def check_acknowledged(db, expected):
    decks = dict(rows(db, "SELECT id, name FROM deck"))
    readings = dict(rows(db, "SELECT id, json_extract(document, '$.token') FROM reading"))
    for number, name in expected.there["deck"].items():
        assert decks.get(number) == name, f"deck {number} is lost"
    for number, token in expected.there["reading"].items():
        assert readings.get(number) == token, f"reading {number} is lost"
    for kind in ("play", "job", "anchor"):
        found = {number for number, in rows(db, f"SELECT id FROM {kind}")}
        lost = set(expected.there[kind]) - found
        assert not lost, f"{kind} {lost} lost"
    assert not expected.gone & set(decks), "a removed deck came back"


def copy_of(path, folder):
    """The file and its log as they are; not the shared memory, which no other program sees."""
    copy = os.path.join(folder, "copy.db")
    for ending in ("", "-wal", "-journal"):
        if os.path.exists(copy + ending):
            os.remove(copy + ending)
        if os.path.exists(path + ending):
            shutil.copyfile(path + ending, copy + ending)
    if os.path.exists(copy + "-shm"):
        os.remove(copy + "-shm")
    return copy


def kill_writers(writer, folder, kills, moments):
    path = os.path.join(folder, "records.db")
    expected = Expected()
    for run in range(kills):
        expected.take(killed_after([writer, path, str(run + 1)], moments.uniform(0, LATEST_S),
                                   at_work=run % 4 > 0))
        if not os.path.exists(path) or os.path.getsize(path) == 0:
            assert expected.count == 0
            continue
        db = sqlite3.connect(copy_of(path, folder))
        check_health(db)
        if expected.count or rows(db, "PRAGMA user_version") != [(0,)]:
            check_whole(db)
            check_acknowledged(db, expected)
        db.close()
    assert expected.count >= kills * 3 // 4, "too little was written to show anything"
    return expected.count


def old_records(path, fixtures):
    """A file of version 1, with enough in it that bringing it up takes a moment."""
    db = sqlite3.connect(path)
    with open(os.path.join(fixtures, "v1.sql"), encoding="utf-8") as fixture:
        db.executescript(fixture.read())
    db.execute("""WITH RECURSIVE n(i) AS (SELECT 10 UNION ALL SELECT i + 1 FROM n WHERE i < 3000)
        INSERT INTO job SELECT i, 3, '', '', '', 'remark ' || i || printf('%0200d', i), NULL, NULL
        FROM n""")
    db.commit()
    db.close()
    return 2991 + 1  # jobs with remarks


def kill_upgrades(writer, folder, fixtures, kills, moments):
    before = os.path.join(folder, "old.db")
    remarks = old_records(before, fixtures)
    path = os.path.join(folder, "upgrade.db")
    latest = len(os.listdir(fixtures)) + 1  # one of every earlier version
    outcome = {1: 0, latest: 0}
    for _ in range(kills):
        for name in os.listdir(folder):
            if name.startswith("upgrade.db"):
                os.remove(os.path.join(folder, name))
        shutil.copyfile(before, path)
        delay_s = math.exp(moments.uniform(*map(math.log, UPGRADE_S)))
        killed_after([writer, path, "1"], delay_s, at_work=False)
        db = sqlite3.connect(copy_of(path, folder))
        check_health(db)
        version, = rows(db, "PRAGMA user_version")[0]
        table = "job WHERE remarks <> ''" if version == 1 else "remark WHERE text <> 'Grease is old.'"
        assert rows(db, f"SELECT count(*) FROM {table}") == [(remarks,)]
        db.close()
        outcome[version] += 1
        if version > 1:
            copy = sqlite3.connect(path + ".version-1")
            check_health(copy)
            assert rows(copy, "SELECT count(*) FROM job WHERE remarks <> ''") == [(remarks,)]
            copy.close()
    return outcome[1], outcome[latest]


def main():
    writer, fixtures = sys.argv[1:3]
    kills = int(sys.argv[3]) if len(sys.argv) > 3 else 200
    moments = random.Random(20260503)
    started = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="evenspool-kill-") as folder:
        count = kill_writers(writer, folder, kills, moments)
        old, done = kill_upgrades(writer, folder, fixtures, max(kills // 4, 1), moments)
    print(f"{kills} kills while writing: {count} changes acknowledged, none lost")
    print(f"{old + done} kills while bringing version 1 up to date:"
          f" {old} left old, {done} done, none in between")
    print(f"{time.monotonic() - started:.0f} s")


if __name__ == "__main__":
    main()
