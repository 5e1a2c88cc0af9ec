#include "evenspool/base/record_kinds.h"

#include "evenspool/base/adjust.h"
#include "evenspool/base/text.h"

#include <math.h>
#include <string.h>

#define SIZE_OF(type, member) sizeof(((type *)0)->member)

#define ID(type)                                                                                   \
    {                                                                                              \
        "id", "number", ES_FIELD_ID, offsetof(type, id), 0, 0, 0                                   \
    }
#define REFERENCE(type, member, label, target, rules)                                              \
    {                                                                                              \
#member, label, ES_FIELD_REFERENCE, offsetof(type, member), 0, target, rules               \
    }
#define WHOLE(type, member, label, rules)                                                          \
    {                                                                                              \
#member, label, ES_FIELD_WHOLE, offsetof(type, member), 0, 0, rules                        \
    }
#define NUMBER(type, member, label, rules)                                                         \
    {                                                                                              \
#member, label, ES_FIELD_NUMBER, offsetof(type, member), 0, 0, rules                       \
    }
#define TEXT(type, member, label, rules)                                                           \
    {                                                                                              \
#member, label, ES_FIELD_TEXT, offsetof(type, member), SIZE_OF(type, member), 0, rules     \
    }
#define DOCUMENT(type, member, label, rules)                                                       \
    {                                                                                              \
#member, label, ES_FIELD_DOCUMENT, offsetof(type, member), 0, 0, rules                     \
    }

#define NEEDED ES_RULE_NEEDED
#define LINE ES_RULE_LINE
#define KEY ES_RULE_KEY
#define TIME ES_RULE_TIME
#define POSITIVE ES_RULE_POSITIVE
#define NOT_NEGATIVE ES_RULE_NOT_NEGATIVE
#define SPEED ES_RULE_SPEED
#define FROM_ONE ES_RULE_FROM_ONE
#define PART ES_RULE_PART
#define SINCE_2 ES_RULE_SINCE_2

static const es_record_field deck_fields[] = {
    ID(es_deck_record),
    TEXT(es_deck_record, name, "name", NEEDED | LINE | ES_RULE_UNIQUE),
    TEXT(es_deck_record, transport, "class", NEEDED | KEY),
    NUMBER(es_deck_record, speed_m_s, "nominal tape speed", POSITIVE),
    NUMBER(es_deck_record, capstan_m, "capstan diameter", POSITIVE),
    NUMBER(es_deck_record, pinch_roller_m, "pinch roller diameter", POSITIVE),
    NUMBER(es_deck_record, flywheel_m, "flywheel diameter", POSITIVE),
    NUMBER(es_deck_record, motor_pulley_m, "motor pulley diameter", POSITIVE),
    NUMBER(es_deck_record, belt_m, "belt length", POSITIVE),
    NUMBER(es_deck_record, idler_m, "idler diameter", POSITIVE),
    NUMBER(es_deck_record, hub_radius_m, "hub radius", POSITIVE),
    TEXT(es_deck_record, photo, "photo", LINE),
    TEXT(es_deck_record, notes, "text of notes", 0),
};

static const es_record_field epoch_fields[] = {
    ID(es_epoch_record),
    REFERENCE(es_epoch_record, deck, "deck", ES_RECORD_DECK, NEEDED | PART),
    WHOLE(es_epoch_record, number, "place in the deck's history", FROM_ONE),
    TEXT(es_epoch_record, began, "beginning", TIME),
    NUMBER(es_epoch_record, walk_percent, "drift", NOT_NEGATIVE),
    TEXT(es_epoch_record, why, "reason", 0),
};

static const es_record_field tape_fields[] = {
    ID(es_tape_record),
    TEXT(es_tape_record, name, "name", NEEDED | LINE | ES_RULE_UNIQUE),
    TEXT(es_tape_record, transport, "class", NEEDED | KEY),
    TEXT(es_tape_record, programme, "programme", KEY),
    NUMBER(es_tape_record, nominal_hz, "test tone", POSITIVE),
    NUMBER(es_tape_record, thickness_m, "thickness", POSITIVE),
    NUMBER(es_tape_record, length_m, "length", POSITIVE),
    REFERENCE(es_tape_record, recorded_epoch, "recording deck's epoch", ES_RECORD_EPOCH, 0),
    TEXT(es_tape_record, recorded_at, "day of recording", TIME),
    NUMBER(es_tape_record, certificate_percent, "certified speed error", SPEED),
    NUMBER(es_tape_record, certificate_u_percent, "certified uncertainty", POSITIVE),
    NUMBER(es_tape_record, certificate_dof, "certificate's degrees of freedom", FROM_ONE),
    NUMBER(es_tape_record, certificate_u95_percent, "certified expanded uncertainty", POSITIVE),
    TEXT(es_tape_record, certificate_at, "certificate's day", TIME),
    TEXT(es_tape_record, certificate_path, "certificate's path", 0),
    TEXT(es_tape_record, notes, "text of notes", 0),
};

static const es_record_field job_fields[] = {
    ID(es_job_record),
    REFERENCE(es_job_record, deck, "deck", ES_RECORD_DECK, NEEDED),
    TEXT(es_job_record, opened_at, "beginning", TIME),
    TEXT(es_job_record, closed_at, "end", TIME),
    TEXT(es_job_record, asked, "order", 0),
    TEXT(es_job_record, adjust, "adjusted quantity", NEEDED | ES_RULE_ADJUST | SINCE_2),
    REFERENCE(es_job_record, as_found, "as-found reading", ES_RECORD_READING, 0),
    REFERENCE(es_job_record, as_left, "as-left reading", ES_RECORD_READING, 0),
};

static const es_record_field reading_fields[] = {
    ID(es_reading_record),
    REFERENCE(es_reading_record, deck, "deck", ES_RECORD_DECK, NEEDED),
    REFERENCE(es_reading_record, epoch, "epoch", ES_RECORD_EPOCH, NEEDED),
    REFERENCE(es_reading_record, job, "job", ES_RECORD_JOB, 0),
    REFERENCE(es_reading_record, tape, "tape", ES_RECORD_TAPE, 0),
    TEXT(es_reading_record, taken_at, "time", TIME),
    TEXT(es_reading_record, schema, "schema", NEEDED | KEY),
    NUMBER(es_reading_record, error_percent, "speed error", SPEED),
    NUMBER(es_reading_record, u95_percent, "expanded uncertainty", NOT_NEGATIVE),
    NUMBER(es_reading_record, weighted_quasi_peak_percent, "weighted flutter", NOT_NEGATIVE),
    NUMBER(es_reading_record, error_us, "delay", SINCE_2),
    NUMBER(es_reading_record, u95_us, "expanded uncertainty", NOT_NEGATIVE | SINCE_2),
    NUMBER(es_reading_record, error_db, "level", SINCE_2),
    NUMBER(es_reading_record, u95_db, "expanded uncertainty", NOT_NEGATIVE | SINCE_2),
    TEXT(es_reading_record, capture, "capture's name", 0),
    TEXT(es_reading_record, capture_sha256, "capture's hash", ES_RULE_SHA256),
    DOCUMENT(es_reading_record, document, "result", NEEDED),
};

static const es_record_field nudge_fields[] = {
    ID(es_nudge_record),
    REFERENCE(es_nudge_record, job, "job", ES_RECORD_JOB, NEEDED | PART),
    WHOLE(es_nudge_record, place, "place in the job", FROM_ONE),
    NUMBER(es_nudge_record, time_s, "time", NOT_NEGATIVE),
    NUMBER(es_nudge_record, size_percent, "size", 0),
    NUMBER(es_nudge_record, size_us, "size", SINCE_2),
    NUMBER(es_nudge_record, size_db, "size", SINCE_2),
    NUMBER(es_nudge_record, overshoot, "overshoot", NOT_NEGATIVE),
};

static const es_record_field remark_fields[] = {
    ID(es_remark_record),
    REFERENCE(es_remark_record, job, "job", ES_RECORD_JOB, NEEDED | PART),
    TEXT(es_remark_record, made_at, "time", TIME),
    TEXT(es_remark_record, text, "text", NEEDED),
};

static const es_record_field play_fields[] = {
    ID(es_play_record),
    REFERENCE(es_play_record, recorded_on, "recording deck's epoch", ES_RECORD_EPOCH, NEEDED),
    REFERENCE(es_play_record, played_on, "playing deck's epoch", ES_RECORD_EPOCH, NEEDED),
    REFERENCE(es_play_record, tape, "tape", ES_RECORD_TAPE, 0),
    REFERENCE(es_play_record, reading, "reading", ES_RECORD_READING, 0),
    TEXT(es_play_record, recorded_at, "day of recording", TIME),
    TEXT(es_play_record, played_at, "day of playing", TIME),
    NUMBER(es_play_record, heard_percent, "apparent error", NEEDED | SPEED),
    NUMBER(es_play_record, u_percent, "standard uncertainty", NEEDED | POSITIVE),
    NUMBER(es_play_record, dof, "number of degrees of freedom", NEEDED | FROM_ONE),
    TEXT(es_play_record, note, "note", 0),
};

static const es_record_field anchor_fields[] = {
    ID(es_anchor_record),
    REFERENCE(es_anchor_record, epoch, "deck's epoch", ES_RECORD_EPOCH, NEEDED),
    TEXT(es_anchor_record, method, "method", NEEDED | KEY),
    TEXT(es_anchor_record, made_at, "day", TIME),
    NUMBER(es_anchor_record, error_percent, "speed error", NEEDED | SPEED),
    NUMBER(es_anchor_record, u_percent, "standard uncertainty", NEEDED | POSITIVE),
    NUMBER(es_anchor_record, dof, "number of degrees of freedom", NEEDED | FROM_ONE),
    NUMBER(es_anchor_record, u95_percent, "expanded uncertainty", POSITIVE),
    NUMBER(es_anchor_record, u95_by_shape_percent, "expanded uncertainty by shape", POSITIVE),
    TEXT(es_anchor_record, note, "note", 0),
};

static const es_record_field answer_fields[] = {
    ID(es_answer_record),
    REFERENCE(es_answer_record, anchor, "anchor", ES_RECORD_ANCHOR, NEEDED | PART),
    WHOLE(es_answer_record, place, "place in the anchor", FROM_ONE),
    TEXT(es_answer_record, key, "question", NEEDED | KEY),
    NUMBER(es_answer_record, value, "value", 0),
};

static const es_record_field budget_fields[] = {
    ID(es_budget_record),
    REFERENCE(es_budget_record, anchor, "anchor", ES_RECORD_ANCHOR, NEEDED | PART),
    WHOLE(es_budget_record, place, "place in the anchor", FROM_ONE),
    TEXT(es_budget_record, what, "name", NEEDED | LINE),
    TEXT(es_budget_record, formula, "formula", 0),
    TEXT(es_budget_record, source, "source", 0),
    TEXT(es_budget_record, shape, "shape", KEY),
    NUMBER(es_budget_record, u_percent, "uncertainty", NEEDED | NOT_NEGATIVE),
    NUMBER(es_budget_record, dof, "number of degrees of freedom", FROM_ONE),
};

#define KIND(type, name, plural)                                                                   \
    {                                                                                              \
        type, #name, plural, sizeof(es_##name##_record),                                           \
            sizeof name##_fields / sizeof *name##_fields, name##_fields                            \
    }

static const es_record_kind kinds[] = {
    KIND(ES_RECORD_DECK, deck, "decks"),
    KIND(ES_RECORD_EPOCH, epoch, "epochs"),
    KIND(ES_RECORD_TAPE, tape, "tapes"),
    KIND(ES_RECORD_JOB, job, "jobs"),
    KIND(ES_RECORD_READING, reading, "readings"),
    KIND(ES_RECORD_NUDGE, nudge, "nudges"),
    KIND(ES_RECORD_REMARK, remark, "remarks"),
    KIND(ES_RECORD_PLAY, play, "plays"),
    KIND(ES_RECORD_ANCHOR, anchor, "anchors"),
    KIND(ES_RECORD_ANSWER, answer, "answers"),
    KIND(ES_RECORD_BUDGET, budget, "budget_lines"),
};

_Static_assert(sizeof kinds / sizeof *kinds == ES_RECORD_TYPE_COUNT, "a kind is missing");

const es_record_kind *es_record_kinds(void)
{
    return kinds;
}

static void say_speed(es_job_record *job)
{
    es_text adjust = es_text_over(job->adjust, sizeof job->adjust);
    es_text_add(&adjust, "%s", es_adjust_facts_of(ES_ADJUST_SPEED)->name);
}

void es_record_blank(es_record_type type, void *record)
{
    const es_record_kind *kind = &kinds[type];
    memset(record, 0, kind->size);
    for (size_t i = 0; i < kind->field_count; i++)
        if (kind->fields[i].type == ES_FIELD_NUMBER)
            *(double *)(void *)((char *)record + kind->fields[i].offset) = (double)NAN;
    if (type == ES_RECORD_JOB)
        say_speed(record);
}
