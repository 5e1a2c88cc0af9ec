-- From version 2 to 3: jobs with the azimuth, a level or the balance. A job says what was adjusted; its
-- readings and nudges carry the figure in that unit. All that was kept before was the speed.

ALTER TABLE job ADD COLUMN adjust TEXT NOT NULL DEFAULT 'speed' CHECK (adjust <> '');

ALTER TABLE reading ADD COLUMN error_us REAL;
ALTER TABLE reading ADD COLUMN u95_us REAL CHECK (u95_us >= 0);
ALTER TABLE reading ADD COLUMN error_db REAL;
ALTER TABLE reading ADD COLUMN u95_db REAL CHECK (u95_db >= 0);

ALTER TABLE nudge ADD COLUMN size_us REAL;
ALTER TABLE nudge ADD COLUMN size_db REAL;
