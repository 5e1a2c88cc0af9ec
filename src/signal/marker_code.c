#include "signal/marker_code.h"

#include "evenspool/base/units.h"

#include <math.h>

#define EDGE_S 0.005
#define LAYOUT 1u

/* Welch's construction of a Costas array: 2^i mod 11, less 1 (Golomb and Taylor 1984, Proc. IEEE 72;
 * from memory). */
static const int costas[ES_MARKER_SYNC] = {0, 1, 3, 7, 4, 9, 8, 6, 2, 5};

static const unsigned char masks[ES_MARKER_DATA] = {9, 2, 13, 6, 11, 4, 15, 1, 8, 14, 3, 10, 5};

double es_marker_hz(double steps)
{
    return ES_MARKER_LOWEST_HZ * pow(1.1, steps / ES_MARKER_STEPS_PER_TONE);
}

double es_marker_sync_steps(int half, int i)
{
    double steps = costas[i] * (double)ES_MARKER_STEPS / (ES_MARKER_SYNC - 1);
    return half ? ES_MARKER_STEPS - steps : steps;
}

double es_marker_data_steps(int half, int group)
{
    return ES_MARKER_STEPS_PER_TONE * (half ? ES_MARKER_TONES - 1 - group : group);
}

unsigned long es_marker_check_sum(const unsigned char *bytes, size_t count)
{
    unsigned long sum = 0xB704CEul;
    for (size_t i = 0; i < count; i++) {
        sum ^= (unsigned long)bytes[i] << 16;
        for (int bit = 0; bit < 8; bit++)
            sum = sum & 0x800000ul ? (sum << 1) ^ 0x1864CFBul : sum << 1;
    }
    return sum & 0xFFFFFFul;
}

static unsigned long sum_of(unsigned long word)
{
    unsigned char bytes[4] = {(unsigned char)(word >> 24 & 0xFF),
                              (unsigned char)(word >> 16 & 0xFF), (unsigned char)(word >> 8 & 0xFF),
                              (unsigned char)(word & 0xFF)};
    return es_marker_check_sum(bytes, 4);
}

es_status es_marker_groups(es_marker_code code, unsigned char groups[ES_MARKER_DATA])
{
    if (code.programme > 0xFFFF || code.side > 3 || code.section > 0xFF)
        return ES_ERR_ARG;
    unsigned long word = (unsigned long)LAYOUT << 26 | (unsigned long)code.programme << 10 |
                         (unsigned long)code.side << 8 | code.section;
    unsigned long sum = sum_of(word);
    for (int i = 0; i < ES_MARKER_DATA; i++) {
        unsigned long bits = i < 7 ? word >> (24 - 4 * i) : sum >> (20 - 4 * (i - 7));
        groups[i] = (unsigned char)((bits & 0xF) ^ masks[i]);
    }
    return ES_OK;
}

int es_marker_read(const unsigned char groups[ES_MARKER_DATA], es_marker_code *code)
{
    unsigned long word = 0, sum = 0;
    for (int i = 0; i < ES_MARKER_DATA; i++) {
        unsigned long bits = (unsigned long)(groups[i] ^ masks[i]);
        if (i < 7)
            word = word << 4 | bits;
        else
            sum = sum << 4 | bits;
    }
    if (word >> 26 != LAYOUT || sum != sum_of(word))
        return 0;
    *code = (es_marker_code){.programme = (unsigned)(word >> 10 & 0xFFFF),
                             .side = (unsigned)(word >> 8 & 3),
                             .section = (unsigned)(word & 0xFF)};
    return 1;
}

/* --- making ------------------------------------------------------------------------- */

es_status es_marker_burst_make(es_marker_code code, es_marker_burst *burst)
{
    unsigned char groups[ES_MARKER_DATA];
    *burst = (es_marker_burst){0};
    es_status status = es_marker_groups(code, groups);
    if (status != ES_OK)
        return status;
    double turns = 0.0;
    for (int i = 0; i < ES_MARKER_SYMBOLS; i++) {
        int half = i / ES_MARKER_HALF, at = i % ES_MARKER_HALF;
        burst->hz[i] = es_marker_hz(at < ES_MARKER_SYNC
                                        ? es_marker_sync_steps(half, at)
                                        : es_marker_data_steps(half, groups[at - ES_MARKER_SYNC]));
        burst->turns[i] = turns;
        turns += burst->hz[i] * ES_MARKER_SYMBOL_S;
        turns -= floor(turns);
    }
    return ES_OK;
}

double es_marker_burst_at(const es_marker_burst *burst, double time_s)
{
    if (!(time_s > 0.0 && time_s < ES_MARKER_S))
        return 0.0;
    int i = (int)(time_s / ES_MARKER_SYMBOL_S);
    i = i < ES_MARKER_SYMBOLS ? i : ES_MARKER_SYMBOLS - 1;
    double turns = burst->turns[i] + burst->hz[i] * (time_s - i * ES_MARKER_SYMBOL_S);
    double edge = fmin(fmin(time_s, ES_MARKER_S - time_s) / EDGE_S, 1.0);
    return (0.5 - 0.5 * cos(ES_PI * edge)) * sin(ES_TWO_PI * (turns - floor(turns)));
}
