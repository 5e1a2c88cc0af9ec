#include "serve/facts_json.h"

#include "evenspool/base/text.h"
#include "json/document.h"
#include "json/trim_json.h"

#include <string.h>

static const char *const sounds[] = {"none", "reference", "beat", "guide"};
#define SOUNDS ((int)(sizeof sounds / sizeof *sounds))

int es_sound_kind_of(const char *word)
{
    for (int kind = 0; kind < SOUNDS; kind++)
        if (strcmp(word, sounds[kind]) == 0)
            return kind;
    return -1;
}

const char *es_phase_name(es_session_phase phase)
{
    static const char *const names[] = {[ES_SESSION_RUNNING] = "running",
                                        [ES_SESSION_WAITING] = "waiting",
                                        [ES_SESSION_ENDED] = "ended",
                                        [ES_SESSION_FAILED] = "failed"};
    return names[phase];
}

static void write_live(es_json *json, es_json_part *to, const es_session_facts *live)
{
    const es_session_standing *at = &live->standing;
    es_json_text(json, to, "source", at->source);
    es_json_text(json, to, "device", es_text_or_null(at->device));
    es_json_text(json, to, "sentence", es_text_or_null(at->sentence));
    es_json_text(json, to, "level", es_text_or_null(at->level_words));
    es_json_number(json, to, "rate_hz", at->rate_hz);
    es_json_count(json, to, "channels", at->channels);
    if (live->has_trimmer)
        es_json_number(json, to, "trimmer_turns", live->trimmer_turns);
    else
        es_json_null(json, to, "trimmer_turns");
    es_json_count(json, to, "frames", (int64_t)at->frames);
    es_json_count(json, to, "lost_frames", (int64_t)at->lost_frames);
    es_json_count(json, to, "overruns", (int64_t)at->gaps);
    es_json_text(json, to, "recording", es_text_or_null(at->record_path));
    es_json_text(json, to, "recording_sentence", es_text_or_null(at->record_sentence));
    es_json_text(json, to, "sound",
                 live->sound >= 0 && live->sound < SOUNDS ? sounds[live->sound] : sounds[0]);
    es_json_number(json, to, "sound_level_db", live->sound_level_db);
    es_json_text(json, to, "sound_sentence", es_text_or_null(live->sound_sentence));
    es_json_text(json, to, "output", es_text_or_null(live->output));
}

static void write_settings(es_json *json, es_json_part *to, const es_session_config *settings,
                           const es_visit *visit)
{
    es_json_text(json, to, "source", es_text_or_null(settings->source));
    if (settings->nominal_hz > 0.0)
        es_json_number(json, to, "tone_hz", settings->nominal_hz);
    else
        es_json_null(json, to, "tone_hz");
    es_json_count(json, to, "channel", settings->channel);
    es_json_number(json, to, "tape_error_percent", settings->tape_error_percent);
    es_json_number(json, to, "tape_u95_percent", settings->tape_u95_percent);
    es_json_number(json, to, "clock_ppm", settings->clock_ppm);
    es_json_text(json, to, "adjust", es_adjust_facts_of(settings->adjust)->name);
    es_adjust_number(json, to, settings->adjust, "target", settings->target_percent);
    es_adjust_number(json, to, settings->adjust, "tolerance", settings->tolerance_percent);
    es_json_number(json, to, "reference_dbfs", settings->reference_dbfs);
    es_json_text(json, to, "class", es_text_or_null(settings->transport));
    es_json_text(json, to, "record", es_text_or_null(settings->record_path));
    es_json_text(json, to, "deck", es_text_or_null(visit->deck));
    es_json_text(json, to, "tape", es_text_or_null(visit->tape));
}

es_status es_facts_to_json(const es_bench_facts *facts, char **out)
{
    *out = NULL;
    es_json *json;
    es_status status = es_json_create(&json);
    if (status != ES_OK)
        return status;
    es_json_part *root = es_json_root(json);
    es_json_text(json, root, "schema", "evenspool.bench/1");
    es_json_text(json, root, "version", ES_VERSION);
    es_json_count(json, root, "session", facts->session);
    es_json_text(json, root, "phase",
                 facts->live ? es_phase_name(facts->live->standing.phase) : "none");
    if (facts->live)
        write_live(json, es_json_object(json, root, "live"), facts->live);
    else
        es_json_null(json, root, "live");
    write_settings(json, es_json_object(json, root, "settings"), facts->settings, facts->visit);
    if (facts->kept)
        es_json_count(json, root, "kept", facts->kept);
    else
        es_json_null(json, root, "kept");
    es_json_count(json, root, "missed", (int64_t)facts->missed);
    status = es_json_print(json, 0, out);
    es_json_destroy(json);
    return status;
}
