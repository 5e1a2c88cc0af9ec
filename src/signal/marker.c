#include "evenspool/signal/marker.h"

#include "evenspool/signal/scan.h"
#include "signal/marker_ear.h"
#include "signal/marker_time.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SPEEDS (ES_MARKER_DOWN + ES_MARKER_UP + 1)
#define FINDS_MOST 64
#define LIKELY 0.45f  /* mean share of the sound in the pattern's tones: a marker may be here */
#define CLEAR 0.40    /* and in all of the tones that were read                             */
#define SETTLE_ROWS 6 /* the best of so many rows is the candidate                          */
#define MARGIN_ROWS 5 /* beyond the burst's end, for timing its last symbols                */

typedef struct place {
    int16_t row, cell;
} place;

typedef struct candidate {
    int64_t row; /* where the burst begins  */
    int speed;
    float score;
    int64_t since; /* newest row when it first showed */
} candidate;

struct es_marker_finder {
    es_marker_ear ear;
    double first_s, row_s;
    place sync[SPEEDS][ES_MARKER_HALVES][ES_MARKER_SYNC];
    int16_t data[SPEEDS][ES_MARKER_HALVES][ES_MARKER_DATA]; /* rows */
    int length[SPEEDS];                                     /* rows of the whole burst */

    es_marker_rows rows;
    int64_t last_sound; /* newest row in which anything was */
    int64_t deaf_until; /* starts of bursts before this row have been dealt with */
    candidate best;
    es_marker_find find[FINDS_MOST];
    size_t find_count;
};

/* --- life ------------------------------------------------------------------------------ */

static double speed_of(int speed)
{
    return es_marker_hz(speed - ES_MARKER_DOWN) / ES_MARKER_LOWEST_HZ;
}

static int row_of_symbol(const es_marker_finder *f, int speed, int symbol)
{
    double time_s = (symbol + 0.5) * ES_MARKER_SYMBOL_S / speed_of(speed);
    return (int)lround(time_s / f->row_s);
}

static void lay_out_speed(es_marker_finder *f, int v)
{
    for (int half = 0; half < ES_MARKER_HALVES; half++) {
        int first = half * ES_MARKER_HALF;
        for (int i = 0; i < ES_MARKER_SYNC; i++)
            f->sync[v][half][i] =
                (place){.row = (int16_t)row_of_symbol(f, v, first + i),
                        .cell = (int16_t)(v + lround(es_marker_sync_steps(half, i)))};
        for (int i = 0; i < ES_MARKER_DATA; i++)
            f->data[v][half][i] = (int16_t)row_of_symbol(f, v, first + ES_MARKER_SYNC + i);
    }
    f->length[v] = (int)ceil(ES_MARKER_S / speed_of(v) / f->row_s);
}

es_status es_marker_finder_create(double rate_hz, es_marker_finder **out)
{
    *out = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz <= 384000.0))
        return ES_ERR_ARG;
    es_marker_finder *f = calloc(1, sizeof *f);
    if (!f)
        return ES_ERR_NOMEM;
    if (es_marker_ear_start(&f->ear, rate_hz) != ES_OK) {
        es_marker_finder_destroy(f);
        return ES_ERR_NOMEM;
    }
    f->first_s = es_marker_ear_first_s(&f->ear);
    f->row_s = es_marker_ear_row_s(&f->ear);
    for (int v = 0; v < SPEEDS; v++)
        lay_out_speed(f, v);
    es_marker_finder_reset(f);
    *out = f;
    return ES_OK;
}

void es_marker_finder_destroy(es_marker_finder *f)
{
    if (!f)
        return;
    es_marker_ear_stop(&f->ear);
    free(f);
}

void es_marker_finder_reset(es_marker_finder *f)
{
    es_marker_ear_reset(&f->ear);
    memset(&f->rows, 0, sizeof f->rows);
    f->deaf_until = INT64_MIN;
    f->last_sound = INT64_MIN / 2;
    f->best = (candidate){0};
    f->find_count = 0;
}

/* --- reading a candidate ------------------------------------------------------------------- */

/* What the chosen halves together say. */
typedef struct hearing {
    unsigned char group[ES_MARKER_DATA];
    float lead[ES_MARKER_DATA]; /* of the group over the next best */
} hearing;

/* Share that a group has in the chosen halves. */
static float weight_of(const es_marker_finder *f, const candidate *c, unsigned halves, int i,
                       int group)
{
    float sum = 0.0f;
    for (int half = 0; half < ES_MARKER_HALVES; half++)
        if (halves & 1u << half)
            sum += es_marker_row(
                &f->rows,
                c->row +
                    f->data[c->speed][half][i])[c->speed + (int)es_marker_data_steps(half, group)];
    return sum;
}

static void hear(const es_marker_finder *f, const candidate *c, unsigned halves, hearing *h)
{
    for (int i = 0; i < ES_MARKER_DATA; i++) {
        float best = -1.0f, next = -1.0f;
        for (int group = 0; group < ES_MARKER_TONES; group++) {
            float weight = weight_of(f, c, halves, i, group);
            if (weight > best) {
                next = best;
                best = weight;
                h->group[i] = (unsigned char)group;
            } else if (weight > next) {
                next = weight;
            }
        }
        h->lead[i] = best - next;
    }
}

/* The group with the smallest lead, `but` left out. */
static int weakest(const hearing *h, int but)
{
    int at = but == 0 ? 1 : 0;
    for (int i = 0; i < ES_MARKER_DATA; i++)
        if (i != but && h->lead[i] < h->lead[at])
            at = i;
    return at;
}

/* As heard, or with other groups in the two weakest places, where a dropout may have been. */
static int make_out(hearing *h, es_marker_code *code)
{
    if (es_marker_read(h->group, code))
        return 1;
    int first = weakest(h, -1), second = weakest(h, first);
    hearing heard = *h;
    for (int i = 0; i < ES_MARKER_TONES * ES_MARKER_TONES; i++) {
        h->group[first] = (unsigned char)(i % ES_MARKER_TONES);
        h->group[second] = (unsigned char)(i / ES_MARKER_TONES);
        if (es_marker_read(h->group, code))
            return 1;
    }
    *h = heard;
    return 0;
}

/* Mean share of the right tones in the chosen halves. */
static double clarity_of(const es_marker_finder *f, const candidate *c, unsigned halves,
                         const unsigned char groups[ES_MARKER_DATA])
{
    double sum = 0.0;
    int count = 0;
    for (int half = 0; half < ES_MARKER_HALVES; half++) {
        if (!(halves & 1u << half))
            continue;
        for (int i = 0; i < ES_MARKER_SYNC; i++) {
            place p = f->sync[c->speed][half][i];
            sum += (double)es_marker_row(&f->rows, c->row + p.row)[p.cell];
        }
        for (int i = 0; i < ES_MARKER_DATA; i++)
            sum += (double)es_marker_row(
                &f->rows, c->row + f->data[c->speed][half][i])[c->speed + (int)es_marker_data_steps(
                                                                              half, groups[i])];
        count += ES_MARKER_HALF;
    }
    return sum / count;
}

static int read_halves(const es_marker_finder *f, const candidate *c, unsigned halves,
                       es_marker_find *find)
{
    hearing h;
    es_marker_code code;
    hear(f, c, halves, &h);
    if (!make_out(&h, &code))
        return 0;
    double clarity = clarity_of(f, c, halves, h.group);
    if (clarity < CLEAR)
        return 0;
    find->code = code;
    find->clarity = clarity;
    return 1;
}

static int same_code(es_marker_code a, es_marker_code b)
{
    return a.programme == b.programme && a.side == b.side && a.section == b.section;
}

/* Each half by itself, then both together; a half that says something else than the clearer one is
 * no witness. */
static int read_candidate(const es_marker_finder *f, const candidate *c, es_marker_find *find)
{
    es_marker_find by[2] = {0};
    int first = read_halves(f, c, 1u, &by[0]), second = read_halves(f, c, 2u, &by[1]);
    if (first && second && !same_code(by[0].code, by[1].code))
        first = !(second = by[1].clarity > by[0].clarity);
    if (!first && !second && !read_halves(f, c, 3u, &by[0]))
        return 0;
    *find = second && (!first || by[1].clarity > by[0].clarity) ? by[1] : by[0];
    find->halves = first + 2 * second;
    return 1;
}

static void keep(es_marker_finder *f, const es_marker_find *find)
{
    if (f->find_count < FINDS_MOST)
        f->find[f->find_count++] = *find;
}

static void settle(es_marker_finder *f)
{
    candidate c = f->best;
    es_marker_find find = {0};
    f->best = (candidate){0};
    if (!read_candidate(f, &c, &find))
        return;
    double speed = speed_of(c.speed);
    es_marker_fit fit = es_marker_time(&f->rows, find.code, (double)c.row, speed, f->row_s);
    find.start_s = f->first_s + fit.start_row * f->row_s;
    find.end_s = f->first_s + fit.end_row * f->row_s;
    find.speed = fit.speed;
    keep(f, &find);
    f->deaf_until = c.row + f->length[c.speed] - MARGIN_ROWS;
}

/* --- looking for candidates ------------------------------------------------------------------ */

static float sync_score(const es_marker_finder *f, int v, int half, int64_t start)
{
    float sum = 0.0f;
    const place *p = f->sync[v][half];
    for (int i = 0; i < ES_MARKER_SYNC; i++) {
        sum += es_marker_row(&f->rows, start + p[i].row)[p[i].cell];
        if (i == 3 && sum < 0.5f) /* a cheap way out: nothing like a marker */
            return 0.0f;
    }
    return sum / ES_MARKER_SYNC;
}

static void look(es_marker_finder *f)
{
    int64_t newest = f->rows.count - 1;
    int empty =
        newest - f->last_sound > f->length[0] + MARGIN_ROWS; /* the slowest is the longest */
    for (int v = 0; v < SPEEDS && !empty; v++) {
        int64_t start = newest - f->length[v] - MARGIN_ROWS;
        if (start < f->deaf_until)
            continue;
        float a = sync_score(f, v, 0, start), b = sync_score(f, v, 1, start);
        if (a < LIKELY && b < LIKELY)
            continue;
        int64_t since = f->best.score > 0.0f ? f->best.since : newest;
        if (a + b > f->best.score)
            f->best = (candidate){.row = start, .speed = v, .score = a + b, .since = since};
    }
    if (f->best.score > 0.0f && newest - f->best.since >= SETTLE_ROWS)
        settle(f);
}

static void take_row(es_marker_finder *f, const float *row)
{
    if (es_scan_peak(row, ES_MARKER_CELLS) > 0.0f)
        f->last_sound = f->rows.count;
    memcpy(f->rows.row[(size_t)f->rows.count % ES_MARKER_ROWS], row, sizeof f->rows.row[0]);
    f->rows.count++;
    look(f);
}

void es_marker_finder_push(es_marker_finder *f, const float *left, const float *right,
                           size_t stride, size_t frames)
{
    while (frames > 0) {
        float row[ES_MARKER_CELLS];
        int due;
        size_t used = es_marker_ear_push(&f->ear, left, right, stride, frames, row, &due);
        if (due)
            take_row(f, row);
        left += used * stride;
        if (right)
            right += used * stride;
        frames -= used;
    }
}

void es_marker_finder_finish(es_marker_finder *f)
{
    static const float nothing[ES_MARKER_CELLS];
    for (int i = f->length[0] + MARGIN_ROWS + SETTLE_ROWS + 1; i > 0; i--)
        take_row(f, nothing);
}

size_t es_marker_finder_take(es_marker_finder *f, es_marker_find *out, size_t room)
{
    size_t count = f->find_count < room ? f->find_count : room;
    memcpy(out, f->find, count * sizeof *out);
    f->find_count -= count;
    memmove(f->find, f->find + count, f->find_count * sizeof *out);
    return count;
}
