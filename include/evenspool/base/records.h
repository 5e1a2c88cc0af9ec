/*
 * What the bench keeps: decks and their epochs, tapes, jobs, readings, plays, anchors. Plain
 * records; each is one row of the records file and one object of the exported document.
 *
 *   id       > 0; 0: new, or in a field that names another record: none
 *   numbers  NaN: not known, never 0; infinite only where it says so
 *   texts    UTF-8 of any script, terminated; "": nothing said. A text that does not fit its room
 *            is to be refused, never cut
 *   times    UTC, "2026-05-03" or "2026-05-03T14:05:00Z"; "": not known
 *   speeds   percent of nominal, + fast; u is a standard uncertainty, u95 an expanded one
 *   words    methods, shapes and classes of transport are kept by their key ("tape-length",
 *            "cassette"), never by a number
 *   At the end: descriptions of the records, so that what stores, prints or reads them needs no
 *   list of fields of its own. Meaning of every field: docs/records.md
 */
#ifndef ES_BASE_RECORDS_H
#define ES_BASE_RECORDS_H

#include <stddef.h>
#include <stdint.h>

#define ES_NAME_ROOM 256
#define ES_TIME_ROOM 32
#define ES_KEY_ROOM 64
#define ES_LINE_ROOM 400
#define ES_PATH_ROOM 1024
#define ES_PROSE_ROOM 4000
#define ES_SHA256_ROOM 65

/* A machine. Its sizes as es_geometry of tape/transport.h has them; lengths are diameters. */
typedef struct es_deck_record {
    int64_t id;
    char name[ES_NAME_ROOM];     /* one line, no other deck has it             */
    char transport[ES_KEY_ROOM]; /* class: "cassette"                          */
    double speed_m_s;            /* nominal; NaN: the class's                  */
    double capstan_m;
    double pinch_roller_m;
    double flywheel_m;
    double motor_pulley_m;
    double belt_m; /* length                                     */
    double idler_m;
    double hub_radius_m;
    char photo[ES_PATH_ROOM]; /* path of a picture; the picture stays where it is */
    char notes[ES_PROSE_ROOM];
} es_deck_record;

/* A deck from one adjustment to the next. Every deck has at least the first. */
typedef struct es_epoch_record {
    int64_t id;
    int64_t deck;
    int64_t number;           /* 1, 2 ... within the deck                   */
    char began[ES_TIME_ROOM]; /* "": before the records begin               */
    double walk_percent;      /* drift as a random walk, per square root of a year; NaN: usual */
    char why[ES_LINE_ROOM];
} es_epoch_record;

/* A tape that is known by name, home-made or bought, with its certificate as it was last found. */
typedef struct es_tape_record {
    int64_t id;
    char name[ES_NAME_ROOM]; /* one line, no other tape has it             */
    char transport[ES_KEY_ROOM];
    char programme[ES_KEY_ROOM];
    double nominal_hz;      /* its test tone                              */
    double thickness_m;     /* total                                      */
    double length_m;        /* whole tape                                 */
    int64_t recorded_epoch; /* of the deck that recorded it               */
    char recorded_at[ES_TIME_ROOM];
    double certificate_percent; /* its speed error                            */
    double certificate_u_percent;
    double certificate_dof; /* degrees of freedom, >= 1 or infinite       */
    double certificate_u95_percent;
    char certificate_at[ES_TIME_ROOM];
    char certificate_path[ES_PATH_ROOM]; /* where it came from, in words               */
    char notes[ES_PROSE_ROOM];
} es_tape_record;

/* One visit of a deck to the bench. Its nudges and remarks are records of their own. */
typedef struct es_job_record {
    int64_t id;
    int64_t deck;
    char opened_at[ES_TIME_ROOM];
    char closed_at[ES_TIME_ROOM]; /* "": still on the bench                     */
    char asked[ES_LINE_ROOM];     /* what the deck came for                     */
    char adjust[ES_KEY_ROOM];     /* what was turned: a name of base/adjust.h   */
    int64_t as_found;             /* reading of the same deck                   */
    int64_t as_left;              /* likewise                                   */
} es_job_record;

/* A measurement with its result exactly as it was given out. */
typedef struct es_reading_record {
    int64_t id;
    int64_t deck;
    int64_t epoch; /* of that deck                               */
    int64_t job;   /* of that deck                               */
    int64_t tape;
    char taken_at[ES_TIME_ROOM];
    char schema[ES_KEY_ROOM]; /* of the result: "evenspool.check/1"         */
    double error_percent;     /* the result's main figures, for lists       */
    double u95_percent;
    double weighted_quasi_peak_percent;
    double error_us, u95_us;             /* of a job with the azimuth: no speed then   */
    double error_db, u95_db;             /* of one with a level or the balance         */
    char capture[ES_PATH_ROOM];          /* name of the capture                        */
    char capture_sha256[ES_SHA256_ROOM]; /* of its bytes, 64 lower-case hex digits     */
    const char *document;                /* the result, JSON; NULL in lists            */
} es_reading_record;

/* One turn of the trimmer or screw during a job; its size in the unit of what the job adjusts. */
typedef struct es_nudge_record {
    int64_t id;
    int64_t job;
    int64_t place; /* 1, 2 ... within the job                    */
    double time_s; /* since the listening began                  */
    double size_percent, size_us, size_db;
    double overshoot; /* part of the size; 0: none                  */
} es_nudge_record;

typedef struct es_remark_record {
    int64_t id;
    int64_t job;
    char made_at[ES_TIME_ROOM];
    char text[ES_PROSE_ROOM];
} es_remark_record;

/* A tape recorded in one epoch and heard in another (or the same). */
typedef struct es_play_record {
    int64_t id;
    int64_t recorded_on; /* epoch                                      */
    int64_t played_on;   /* epoch                                      */
    int64_t tape;
    int64_t reading; /* it was heard by                            */
    char recorded_at[ES_TIME_ROOM];
    char played_at[ES_TIME_ROOM];
    double heard_percent; /* 100 (heard / written - 1)                  */
    double u_percent;     /* > 0                                        */
    double dof;           /* >= 1 or infinite                           */
    char note[ES_LINE_ROOM];
} es_play_record;

/* What ties an epoch to true speed. Its answers and budget lines are records of their own. */
typedef struct es_anchor_record {
    int64_t id;
    int64_t epoch;
    char method[ES_KEY_ROOM];
    char made_at[ES_TIME_ROOM];
    double error_percent;
    double u_percent; /* > 0                                        */
    double dof;       /* >= 1 or infinite                           */
    double u95_percent;
    double u95_by_shape_percent;
    char note[ES_LINE_ROOM];
} es_anchor_record;

/* What a person answered to one of the anchor's questions. */
typedef struct es_answer_record {
    int64_t id;
    int64_t anchor;
    int64_t place;         /* 1, 2 ... within the anchor                 */
    char key[ES_KEY_ROOM]; /* of the question                            */
    double value;          /* in the question's unit; NaN: left open     */
} es_answer_record;

typedef struct es_budget_record {
    int64_t id;
    int64_t anchor;
    int64_t place; /* 1, 2 ... within the anchor                 */
    char what[ES_LINE_ROOM];
    char formula[ES_LINE_ROOM];
    char source[ES_LINE_ROOM];
    char shape[ES_KEY_ROOM]; /* "normal", "rectangular", "triangular", "u" */
    double u_percent;        /* contribution, >= 0                         */
    double dof;              /* >= 1 or infinite                           */
} es_budget_record;

/* --- descriptions ----------------------------------------------------------------------------- */

/* In the order in which they are exported; a record names only records before it or of its job. */
typedef enum es_record_type {
    ES_RECORD_DECK,
    ES_RECORD_EPOCH,
    ES_RECORD_TAPE,
    ES_RECORD_JOB,
    ES_RECORD_READING,
    ES_RECORD_NUDGE,
    ES_RECORD_REMARK,
    ES_RECORD_PLAY,
    ES_RECORD_ANCHOR,
    ES_RECORD_ANSWER,
    ES_RECORD_BUDGET,
    ES_RECORD_TYPE_COUNT
} es_record_type;

/* Room for a record of any type. */
typedef union es_any_record {
    es_deck_record deck;
    es_epoch_record epoch;
    es_tape_record tape;
    es_job_record job;
    es_reading_record reading;
    es_nudge_record nudge;
    es_remark_record remark;
    es_play_record play;
    es_anchor_record anchor;
    es_answer_record answer;
    es_budget_record budget;
} es_any_record;

typedef enum es_field_type {
    ES_FIELD_ID,        /* int64_t: the record's own                           */
    ES_FIELD_REFERENCE, /* int64_t: id of a record of type `target`; 0: none   */
    ES_FIELD_WHOLE,     /* int64_t                                             */
    ES_FIELD_NUMBER,    /* double; NaN: not known; may be infinite: FROM_ONE   */
    ES_FIELD_TEXT,      /* char[room]                                          */
    ES_FIELD_DOCUMENT   /* const char *: JSON of any length                    */
} es_field_type;

/* What a field has to keep to; 0: anything its type can hold (but infinity). */
typedef enum es_field_rule {
    ES_RULE_NEEDED = 1,        /* not "", not 0 as a reference, not NaN                 */
    ES_RULE_LINE = 2,          /* one line: no control characters, not only blanks      */
    ES_RULE_KEY = 4,           /* a-z 0-9 . / _ - or ""                                 */
    ES_RULE_TIME = 8,          /* as said at the top                                    */
    ES_RULE_SHA256 = 16,       /* 64 of 0-9 a-f or ""                                   */
    ES_RULE_POSITIVE = 32,     /* > 0                                                   */
    ES_RULE_NOT_NEGATIVE = 64, /* >= 0                                                  */
    ES_RULE_SPEED = 128,       /* > -100                                                */
    ES_RULE_FROM_ONE = 256,    /* >= 1; a number may be infinite                        */
    ES_RULE_UNIQUE = 512,      /* no other record of the type has it                    */
    ES_RULE_PART = 1024,       /* reference: the record is a part of the one it names   */
    ES_RULE_ADJUST = 2048,     /* a name of base/adjust.h                               */
    ES_RULE_SINCE_2 = 4096     /* not in evenspool.records/1: it is blank there         */
} es_field_rule;

typedef struct es_record_field {
    const char *name;  /* as in the structure                                 */
    const char *label; /* for sentences: "standard uncertainty"               */
    es_field_type type;
    size_t offset;
    size_t room;           /* of a text [bytes], its terminator counted           */
    es_record_type target; /* of a reference                                      */
    unsigned rules;        /* es_field_rule, or-ed                                */
} es_record_field;

typedef struct es_record_kind {
    es_record_type type;
    const char *name;   /* "deck"                                              */
    const char *plural; /* "decks"                                             */
    size_t size;        /* of the structure                                    */
    size_t field_count; /* the first is the id                                 */
    const es_record_field *fields;
} es_record_kind;

#endif
