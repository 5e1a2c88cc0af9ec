/*
 * The code of the markers: which tone each symbol has, and back.
 *
 * A burst is two halves of SYNC + DATA symbols. DATA carries 13 groups of four bits: layout (2 bits,
 * 01), programme (16), side (2), section (8), check sum (24); each group is turned over by a fixed mask
 * so that no code is a row of equal tones. In the second half high and low tones change places.
 */
#ifndef ES_SIGNAL_MARKER_CODE_H
#define ES_SIGNAL_MARKER_CODE_H

#include "evenspool/signal/marker.h"

#define ES_MARKER_TONES 16
#define ES_MARKER_HALVES 2
#define ES_MARKER_SYNC 10
#define ES_MARKER_DATA 13
#define ES_MARKER_HALF (ES_MARKER_SYNC + ES_MARKER_DATA)
_Static_assert(ES_MARKER_HALVES *ES_MARKER_HALF == ES_MARKER_SYMBOLS, "two halves");

#define ES_MARKER_LOWEST_HZ 800.0
/* Frequencies are counted in steps of the tenth part of a tone, 0.96 %; tones stand at multiples of 10. */
#define ES_MARKER_STEPS_PER_TONE 10
#define ES_MARKER_STEPS ((ES_MARKER_TONES - 1) * ES_MARKER_STEPS_PER_TONE)

/* Frequency of so many steps above the lowest tone. */
double es_marker_hz(double steps);

/* Steps of symbol i of the pattern, and of a group of bits, in a half. */
double es_marker_sync_steps(int half, int i);
double es_marker_data_steps(int half, int group);

/* The groups as sent. Fields out of range: ES_ERR_ARG. */
es_status es_marker_groups(es_marker_code code, unsigned char groups[ES_MARKER_DATA]);
/* 1 and the code when layout and check sum are right. */
int es_marker_read(const unsigned char groups[ES_MARKER_DATA], es_marker_code *code);

/* CRC-24 of RFC 4880 section 6.1 (polynomial 0x864CFB, start 0xB704CE). */
unsigned long es_marker_check_sum(const unsigned char *bytes, size_t count);

#endif
