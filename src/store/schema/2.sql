-- From version 1 to 2: remarks become records of their own with a time each; epochs may have their
-- own drift; anchors keep the uncertainty that takes rectangular parts as such.

CREATE TABLE remark (
    id      INTEGER PRIMARY KEY AUTOINCREMENT CHECK (id > 0),
    job     INTEGER NOT NULL REFERENCES job (id),
    made_at TEXT NOT NULL,
    text    TEXT NOT NULL CHECK (text <> '')
) STRICT;
CREATE INDEX remark_by_job ON remark (job);

INSERT INTO remark (job, made_at, text) SELECT id, opened_at, remarks FROM job WHERE remarks <> '' ORDER BY id;
ALTER TABLE job DROP COLUMN remarks;

ALTER TABLE epoch ADD COLUMN walk_percent REAL CHECK (walk_percent >= 0);
ALTER TABLE anchor ADD COLUMN u95_by_shape_percent REAL CHECK (u95_by_shape_percent > 0);
