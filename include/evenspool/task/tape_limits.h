/*
 * Limits that the figures of a test tape are held against: built-in sets by class of machine, and own
 * ones from a text.
 *
 *   text     one limit a line, "separation 20"; "name my deck" names the set; what is left out keeps
 *            the value of the set it starts from ("like reel-19", before any limit); # begins a
 *            remark (docs/guide/tape-read.md)
 *   errors   ES_ERR_INPUT "limits": "Line 3, column 12: ..." and what was expected there
 *   thread   no shared state
 */
#ifndef ES_TASK_TAPE_LIMITS_H
#define ES_TASK_TAPE_LIMITS_H

#include "evenspool/base/error.h"

#include <stddef.h>

typedef enum es_tape_limit_key {
    ES_LIMIT_SPEED,           /* error [%] that needs no adjusting                            */
    ES_LIMIT_FLUTTER,         /* weighted, two-sigma [%], at most                             */
    ES_LIMIT_AZIMUTH,         /* phase between the channels at 10 kHz [degrees], at most      */
    ES_LIMIT_LEVEL,           /* of reference level against where it should read [dB], at most */
    ES_LIMIT_BALANCE,         /* between the channels [dB], at most                           */
    ES_LIMIT_RESPONSE,        /* 63 Hz .. 10 kHz re the first tone [dB], at most              */
    ES_LIMIT_RESPONSE_WIDE,   /* 40 Hz .. 12.5 kHz [dB], at most                              */
    ES_LIMIT_NOISE,           /* unweighted, under reference level [dB], at least             */
    ES_LIMIT_NOISE_A,         /* A-weighted, under reference level [dB], at least             */
    ES_LIMIT_HUM,             /* each line, under reference level [dB], at least              */
    ES_LIMIT_DISTORTION,      /* third harmonic at reference level [%], at most               */
    ES_LIMIT_SEPARATION,      /* at 1 kHz [dB], at least                                      */
    ES_LIMIT_SEPARATION_WIDE, /* 500 Hz .. 6.3 kHz [dB], at least                             */
    ES_LIMIT_DROPOUTS,        /* a minute, at most                                            */
    ES_LIMIT_COUNT
} es_tape_limit_key;

typedef struct es_tape_limits {
    char name[48];
    double value[ES_LIMIT_COUNT];
    char source[ES_LIMIT_COUNT][96];
} es_tape_limits;

/* "speed", "flutter", "azimuth" ...; "" beyond. */
const char *es_tape_limit_name(es_tape_limit_key key);
const char *es_tape_limit_unit(es_tape_limit_key key);

/* "cassette", "reel": index 0 .. ; "" beyond. */
const char *es_tape_limits_name(size_t index);
/* ES_ERR_ARG: no set of that name; *out is then the cassette's. */
es_status es_tape_limits_named(const char *name, es_tape_limits *out);
/* What is usual for a class of machine by its key ("reel-19"). */
void es_tape_limits_usual(const char *transport, es_tape_limits *out);

/* text need not be terminated; *out is the cassette's on error. */
es_status es_tape_limits_parse(const char *text, size_t length, es_tape_limits *out,
                               es_error *error);

#endif
