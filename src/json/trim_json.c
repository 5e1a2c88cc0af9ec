#include "json/trim_json.h"

#include "evenspool/base/text.h"
#include "json/pair_json.h"

#include <math.h>

const char *es_trim_state_name(es_trim_state state)
{
    static const char *const names[] = {
        [ES_TRIM_LISTENING] = "listening",  [ES_TRIM_UNSTEADY] = "unsteady",
        [ES_TRIM_TURNING] = "turning",      [ES_TRIM_SETTLING] = "settling",
        [ES_TRIM_READING] = "reading",      [ES_TRIM_THERE] = "there",
        [ES_TRIM_LOOK_FIRST] = "look-first"};
    return names[state];
}

const char *es_adjust_suffix(es_adjust adjust)
{
    static const char *const suffixes[] = {[ES_ADJUST_SPEED] = "percent",
                                           [ES_ADJUST_AZIMUTH] = "us",
                                           [ES_ADJUST_LEVEL] = "db",
                                           [ES_ADJUST_BALANCE] = "db"};
    return suffixes[adjust];
}

void es_adjust_number(es_json *json, es_json_part *into, es_adjust adjust, const char *name,
                      double value)
{
    char room[48];
    es_text key = es_text_over(room, sizeof room);
    es_text_add(&key, "%s%s%s", name, name[0] ? "_" : "", es_adjust_suffix(adjust));
    es_json_number(json, into, room, value);
}

void es_trim_nudges_to_json(es_json *json, es_json_part *into, es_adjust adjust,
                            const es_nudge *nudges, size_t count)
{
    es_json_part *list = es_json_array(json, into, "nudges");
    size_t kept = count < ES_NUDGES_MOST ? count : ES_NUDGES_MOST;
    for (size_t i = 0; i < kept; i++) {
        es_json_part *nudge = es_json_object(json, list, NULL);
        es_json_number(json, nudge, "time_s", nudges[i].time_s);
        es_adjust_number(json, nudge, adjust, "size", nudges[i].size_percent);
        es_json_number(json, nudge, "overshoot", nudges[i].overshoot);
        es_json_number(json, nudge, "asked", nudges[i].asked);
        es_json_truth(json, nudge, "reversal", nudges[i].reversal);
    }
}

static void write_figure(es_json *json, es_json_part *to, const es_trim_snapshot *s)
{
    int shown = s->state == ES_TRIM_READING || s->state == ES_TRIM_THERE;
    es_adjust_number(json, to, s->adjust, "error", shown ? s->error_percent : (double)NAN);
    es_adjust_number(json, to, s->adjust, "u95", shown ? s->u95_percent : (double)NAN);
    es_adjust_number(json, to, s->adjust, "target", s->target_percent);
    es_adjust_number(json, to, s->adjust, "tolerance", s->tolerance_percent);
}

static void write_course(es_json *json, es_json_part *to, const es_trim_snapshot *s)
{
    es_adjust_number(json, to, s->adjust, "live", s->live_percent);
    es_json_number(json, to, "averaged_s", s->averaged_s);
    es_adjust_number(json, to, s->adjust, "scatter", s->scatter_percent);
    es_json_number(json, to, "turn_s", s->turn_s);
    es_adjust_number(json, to, s->adjust, "backlash", s->backlash_percent);
    es_json_number(json, to, "move_factor", s->move_factor);
    es_json_truth(json, to, "move_of_first", s->move_of_first);
    es_json_number(json, to, "unseen_factor", s->unseen_factor);
    es_json_number(json, to, "held_s", s->held_s);
    es_json_truth(json, to, "final", s->final);
    es_adjust_number(json, to, s->adjust, "final", s->final_percent);
    es_adjust_number(json, to, s->adjust, "final_u95", s->final_u95_percent);
}

static void write_tone(es_json *json, es_json_part *to, const es_trim_snapshot *s)
{
    es_json_number(json, to, "nominal_hz", s->nominal_hz);
    es_json_number(json, to, "heard_hz", s->heard_hz);
    es_json_number(json, to, "reference_hz", s->reference_hz);
    es_json_number(json, to, "tape_error_percent", s->tape_error_percent);
}

static void write_input(es_json *json, es_json_part *to, const es_trim_snapshot *s)
{
    if (s->adjust == ES_ADJUST_SPEED)
        write_tone(json, to, s);
    es_json_number(json, to, "input_peak_fs", s->input_peak_fs);
    if (s->adjust == ES_ADJUST_SPEED)
        es_json_number(json, to, "snr_db", s->snr_db);
    es_json_count(json, to, "overruns", (int64_t)s->overruns);
}

es_status es_trim_to_json(const es_trim_snapshot *snapshot, char **out)
{
    *out = NULL;
    es_json *json;
    es_status status = es_json_create(&json);
    if (status != ES_OK)
        return status;
    es_json_part *root = es_json_root(json);
    int speed = snapshot->adjust == ES_ADJUST_SPEED;
    es_json_text(json, root, "schema", speed ? "evenspool.trim/1" : "evenspool.align/1");
    if (!speed)
        es_json_text(json, root, "adjust", es_adjust_facts_of(snapshot->adjust)->name);
    es_json_number(json, root, "time_s", snapshot->time_s);
    es_json_text(json, root, "state", es_trim_state_name(snapshot->state));
    write_figure(json, root, snapshot);
    es_trim_nudges_to_json(json, root, snapshot->adjust, snapshot->nudges, snapshot->nudge_count);
    es_json_count(json, root, "nudge_count", (int64_t)snapshot->nudge_count);
    es_json_text(json, root, "advice", snapshot->advice);
    es_json_text(json, root, "reason", es_text_or_null(snapshot->reason));
    es_json_text(json, root, "note", es_text_or_null(snapshot->note));
    write_course(json, root, snapshot);
    write_input(json, root, snapshot);
    if (!speed)
        es_pair_to_json(json, root, &snapshot->pair);
    status = es_json_print(json, 0, out);
    es_json_destroy(json);
    return status;
}
