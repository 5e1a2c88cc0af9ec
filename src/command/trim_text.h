/*
 * Words for what the coach says, in the terminal: on the screen, in plain lines, and as the summary
 * that stays.
 */
#ifndef ES_COMMAND_TRIM_TEXT_H
#define ES_COMMAND_TRIM_TEXT_H

#include "command/paint.h"
#include "evenspool/base/text.h"
#include "evenspool/base/trim_session.h"
#include "live/session.h"

#include <stdio.h>

/* 1: there is a figure to show. */
int es_trim_has_figure(const es_trim_snapshot *now);

/* "fast by 1.352 %, give or take 0.031 %"; "on target: ..." inside the tolerance; "" without a figure.
 */
void es_trim_say_direction(es_text *out, const es_trim_snapshot *now);

/* "listening", "hands on", ... */
const char *es_trim_state_words(const es_trim_snapshot *now, const es_session_facts *facts);

/* "none", "reference", "beat", "guide": es_session_sound()'s kinds. */
const char *es_trim_sound_name(int kind);
/* -1: there is no sound of that name. */
int es_trim_sound_named(const char *name);

/* Decimals that the figure is worth at its tolerance. */
int es_trim_decimals(const es_trim_snapshot *now);

/* Minutes and seconds, "1:05". */
void es_trim_say_time(es_text *out, double seconds);

/* One turn of the trimmer: "+0.52 %", with what it went too far. */
void es_trim_say_nudge(es_text *out, es_adjust adjust, const es_nudge *nudge);

/* Both channels: tilt, phase and levels; "" when nothing is known of them, and for the speed. */
void es_trim_say_pair(es_text *out, const es_trim_snapshot *now);

/* As found, turns, as left. */
void es_trim_print_summary(FILE *out, const es_trim_session *session,
                           const es_session_facts *facts);

/* What must be kept in mind with the covers off; lines of at most 78 columns, NULL beyond the last. */
const char *es_trim_caution(int line);

/* What comes on top of it for heads and levels. */
const char *es_trim_head_caution(es_adjust adjust, int line);

#endif
