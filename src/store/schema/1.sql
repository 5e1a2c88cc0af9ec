-- Version 1 of the records. Never edit a step that was given out: add the next one.
-- Times are UTC, 2026-05-03 or 2026-05-03T14:05:00Z; '' is not known. A number that is not known is NULL.
-- Pairs like (epoch, deck) are referred to together so that a reading can't mix two decks.

CREATE TABLE deck (
    id             INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    name           TEXT NOT NULL UNIQUE CHECK (name <> ''),
    transport      TEXT NOT NULL CHECK (transport <> ''),
    speed_m_s      REAL CHECK (speed_m_s > 0),
    capstan_m      REAL CHECK (capstan_m > 0),
    pinch_roller_m REAL CHECK (pinch_roller_m > 0),
    flywheel_m     REAL CHECK (flywheel_m > 0),
    motor_pulley_m REAL CHECK (motor_pulley_m > 0),
    belt_m         REAL CHECK (belt_m > 0),
    idler_m        REAL CHECK (idler_m > 0),
    hub_radius_m   REAL CHECK (hub_radius_m > 0),
    photo          TEXT NOT NULL,
    notes          TEXT NOT NULL
) STRICT;

CREATE TABLE epoch (
    id     INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    deck   INTEGER NOT NULL REFERENCES deck (id),
    number INTEGER NOT NULL CHECK (number >= 1),
    began  TEXT NOT NULL,
    why    TEXT NOT NULL,
    UNIQUE (deck, number),
    UNIQUE (id, deck)
) STRICT;

CREATE TABLE tape (
    id                      INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    name                    TEXT NOT NULL UNIQUE CHECK (name <> ''),
    transport               TEXT NOT NULL CHECK (transport <> ''),
    programme               TEXT NOT NULL,
    nominal_hz              REAL CHECK (nominal_hz > 0),
    thickness_m             REAL CHECK (thickness_m > 0),
    length_m                REAL CHECK (length_m > 0),
    recorded_epoch          INTEGER REFERENCES epoch (id),
    recorded_at             TEXT NOT NULL,
    certificate_percent     REAL CHECK (certificate_percent > -100),
    certificate_u_percent   REAL CHECK (certificate_u_percent > 0),
    certificate_dof         REAL CHECK (certificate_dof >= 1),
    certificate_u95_percent REAL CHECK (certificate_u95_percent > 0),
    certificate_at          TEXT NOT NULL,
    certificate_path        TEXT NOT NULL,
    notes                   TEXT NOT NULL
) STRICT;
CREATE INDEX tape_by_epoch ON tape (recorded_epoch);

CREATE TABLE job (
    id        INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    deck      INTEGER NOT NULL REFERENCES deck (id),
    opened_at TEXT NOT NULL,
    closed_at TEXT NOT NULL,
    asked     TEXT NOT NULL,
    remarks   TEXT NOT NULL,
    as_found  INTEGER,
    as_left   INTEGER,
    UNIQUE (id, deck),
    FOREIGN KEY (as_found, deck) REFERENCES reading (id, deck),
    FOREIGN KEY (as_left, deck) REFERENCES reading (id, deck)
) STRICT;
CREATE INDEX job_by_deck ON job (deck);
CREATE INDEX job_by_as_found ON job (as_found);
CREATE INDEX job_by_as_left ON job (as_left);

CREATE TABLE reading (
    id                          INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    deck                        INTEGER NOT NULL REFERENCES deck (id),
    epoch                       INTEGER NOT NULL,
    job                         INTEGER,
    tape                        INTEGER REFERENCES tape (id),
    taken_at                    TEXT NOT NULL,
    schema                      TEXT NOT NULL CHECK (schema <> ''),
    error_percent               REAL CHECK (error_percent > -100),
    u95_percent                 REAL CHECK (u95_percent >= 0),
    weighted_quasi_peak_percent REAL CHECK (weighted_quasi_peak_percent >= 0),
    capture                     TEXT NOT NULL,
    capture_sha256              TEXT NOT NULL CHECK (length(capture_sha256) IN (0, 64)),
    document                    TEXT NOT NULL CHECK (document <> ''),
    UNIQUE (id, deck),
    FOREIGN KEY (epoch, deck) REFERENCES epoch (id, deck),
    FOREIGN KEY (job, deck) REFERENCES job (id, deck)
) STRICT;
CREATE INDEX reading_by_deck ON reading (deck);
CREATE INDEX reading_by_epoch ON reading (epoch);
CREATE INDEX reading_by_job ON reading (job);
CREATE INDEX reading_by_tape ON reading (tape);

CREATE TABLE nudge (
    id           INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    job          INTEGER NOT NULL REFERENCES job (id),
    place        INTEGER NOT NULL CHECK (place >= 1),
    time_s       REAL CHECK (time_s >= 0),
    size_percent REAL,
    overshoot    REAL CHECK (overshoot >= 0),
    UNIQUE (job, place)
) STRICT;

CREATE TABLE play (
    id            INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    recorded_on   INTEGER NOT NULL REFERENCES epoch (id),
    played_on     INTEGER NOT NULL REFERENCES epoch (id),
    tape          INTEGER REFERENCES tape (id),
    reading       INTEGER REFERENCES reading (id),
    recorded_at   TEXT NOT NULL,
    played_at     TEXT NOT NULL,
    heard_percent REAL NOT NULL CHECK (heard_percent > -100),
    u_percent     REAL NOT NULL CHECK (u_percent > 0),
    dof           REAL NOT NULL CHECK (dof >= 1),
    note          TEXT NOT NULL
) STRICT;
CREATE INDEX play_by_recorded_on ON play (recorded_on);
CREATE INDEX play_by_played_on ON play (played_on);
CREATE INDEX play_by_tape ON play (tape);
CREATE INDEX play_by_reading ON play (reading);

CREATE TABLE anchor (
    id            INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    epoch         INTEGER NOT NULL REFERENCES epoch (id),
    method        TEXT NOT NULL CHECK (method <> ''),
    made_at       TEXT NOT NULL,
    error_percent REAL NOT NULL CHECK (error_percent > -100),
    u_percent     REAL NOT NULL CHECK (u_percent > 0),
    dof           REAL NOT NULL CHECK (dof >= 1),
    u95_percent   REAL CHECK (u95_percent > 0),
    note          TEXT NOT NULL
) STRICT;
CREATE INDEX anchor_by_epoch ON anchor (epoch);

CREATE TABLE answer (
    id     INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    anchor INTEGER NOT NULL REFERENCES anchor (id),
    place  INTEGER NOT NULL CHECK (place >= 1),
    key    TEXT NOT NULL CHECK (key <> ''),
    value  REAL,
    UNIQUE (anchor, place),
    UNIQUE (anchor, key)
) STRICT;

CREATE TABLE budget (
    id        INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    anchor    INTEGER NOT NULL REFERENCES anchor (id),
    place     INTEGER NOT NULL CHECK (place >= 1),
    what      TEXT NOT NULL CHECK (what <> ''),
    formula   TEXT NOT NULL,
    source    TEXT NOT NULL,
    shape     TEXT NOT NULL,
    u_percent REAL NOT NULL CHECK (u_percent >= 0),
    dof       REAL CHECK (dof >= 1),
    UNIQUE (anchor, place)
) STRICT;
