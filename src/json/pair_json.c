#include "json/pair_json.h"

#include <math.h>

/* No more digits than the picture can show: these documents come twenty times a second. */
static double rounded(double value, double step)
{
    return round(value / step) * step; /* NaN stays NaN */
}

static void write_levels(es_json *json, es_json_part *to, const es_pair_view *p)
{
    static const char *const channels[] = {NULL, "left", "right"};
    es_json_number(json, to, "left_dbfs", p->level_dbfs[0]);
    es_json_number(json, to, "right_dbfs", p->level_dbfs[1]);
    es_json_number(json, to, "balance_db", p->balance_db);
    es_json_number(json, to, "reference_dbfs", p->reference_dbfs);
    es_json_text(json, to, "channel", channels[p->channel]);
    es_json_number(json, to, "tone_hz", p->tone_hz);
    es_json_number(json, to, "sum_db", p->sum_db);
}

static void write_delay(es_json *json, es_json_part *to, const es_pair_view *p)
{
    es_json_number(json, to, "delay_us", p->delay_us);
    es_json_number(json, to, "angle_arcmin", p->angle_arcmin);
    es_json_number(json, to, "phase_10k_deg", p->phase_10k_deg);
    es_json_number(json, to, "coherence", p->coherence);
    es_json_truth(json, to, "turn_known", p->turn_known);
    es_json_text(json, to, "polarity", p->opposed ? "opposed" : "same");
    es_json_part *list = es_json_array(json, to, "phase");
    for (size_t i = 0; i < p->phase_count; i++) {
        es_json_part *point = es_json_object(json, list, NULL);
        es_json_number(json, point, "hz", rounded(p->phase[i].hz, 0.1));
        es_json_number(json, point, "degrees", rounded(p->phase[i].degrees, 0.1));
        es_json_number(json, point, "coherence", rounded(p->phase[i].coherence, 0.001));
    }
}

/* The X-Y figure: left, right, left, right ... in percent of the largest. */
static void write_figure(es_json *json, es_json_part *to, const es_pair_view *p)
{
    es_json_part *list = es_json_array(json, to, "figure");
    for (size_t i = 0; i < p->dot_count; i++) {
        es_json_count(json, list, NULL, p->dot[i][0]);
        es_json_count(json, list, NULL, p->dot[i][1]);
    }
}

void es_pair_to_json(es_json *json, es_json_part *into, const es_pair_view *pair)
{
    if (!pair->known) {
        es_json_null(json, into, "pair");
        return;
    }
    es_json_part *to = es_json_object(json, into, "pair");
    write_levels(json, to, pair);
    write_delay(json, to, pair);
    write_figure(json, to, pair);
}
