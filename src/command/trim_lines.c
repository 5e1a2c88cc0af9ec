/* `trim` where no screen can be drawn: plain lines when something is new, or JSON lines of all. */
#include "command/trim_face.h"

#include "command/say.h"
#include "command/trim_text.h"
#include "evenspool/base/text.h"
#include "json/trim_json.h"

#include <math.h>
#include <stdlib.h>

#define FIGURE_EVERY_S 1.0

typedef struct line_face {
    int begun; /* something has been printed */
    es_trim_state state;
    es_session_phase phase;
    double figure_s; /* when a figure was printed last */
    char advice[ES_ADVICE_ROOM], note[ES_TRIM_NOTE_ROOM];
    char sentence[240], level_words[80], record_sentence[240], sound_sentence[240];
} line_face;

static int begin(es_trim_face *face)
{
    face->self = calloc(1, sizeof(line_face));
    return face->self != NULL;
}

static void end(es_trim_face *face)
{
    free(face->self);
    face->self = NULL;
}

/* What happens around the measurement goes to standard error. */
static void tell_facts(line_face *l, const es_session_facts *f)
{
    const es_session_standing *at = &f->standing;
    if (at->phase != ES_SESSION_FAILED && es_is_new(at->sentence, l->sentence, sizeof l->sentence))
        es_say(NULL, "%s", at->sentence);
    if (l->phase == ES_SESSION_WAITING && at->phase == ES_SESSION_RUNNING)
        es_say(NULL, "The input is back.");
    l->phase = at->phase;
    if (es_is_new(at->level_words, l->level_words, sizeof l->level_words))
        es_say(NULL, "%s", at->level_words);
    if (es_is_new(at->record_sentence, l->record_sentence, sizeof l->record_sentence))
        es_say(NULL, "Recording has stopped: %s", at->record_sentence);
    if (es_is_new(f->sound_sentence, l->sound_sentence, sizeof l->sound_sentence))
        es_say(NULL, "%s", f->sound_sentence);
}

static void idle(es_trim_face *face)
{
    es_session_facts facts = es_session_facts_of(face->session);
    tell_facts(face->self, &facts);
}

static void tell_skipped(uint64_t skipped)
{
    if (skipped > 0)
        es_say(NULL, "%llu snapshots were skipped: what reads them is too slow.",
               (unsigned long long)skipped);
}

/* --- plain ------------------------------------------------------------------------------ */

static void print_state(const es_trim_snapshot *now, const es_session_facts *facts)
{
    char room[200], time[24];
    es_text clock = es_text_over(time, sizeof time);
    es_trim_say_time(&clock, now->time_s);
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "%-15s ", es_trim_state_words(now, facts));
    es_trim_say_direction(&text, now);
    while (text.length > 0 && room[text.length - 1] == ' ')
        room[--text.length] = '\0';
    printf("%6s  %s\n", time, room);
}

static void show_plain(es_trim_face *face, const es_trim_snapshot *now,
                       const es_session_facts *facts, uint64_t skipped)
{
    line_face *l = face->self;
    tell_skipped(skipped);
    int changed = !l->begun || now->state != l->state;
    int figure = es_trim_has_figure(now) && now->time_s - l->figure_s >= FIGURE_EVERY_S;
    if (changed || figure) {
        print_state(now, facts);
        l->figure_s = now->time_s;
    }
    if (es_is_new(now->advice, l->advice, sizeof l->advice))
        es_wrap(stdout, "        ", "        ", now->advice);
    if (es_is_new(now->note, l->note, sizeof l->note))
        es_wrap(stdout, "        ", "        ", now->note);
    l->begun = 1;
    l->state = now->state;
    fflush(stdout);
}

static int begin_plain(es_trim_face *face)
{
    for (int i = 0; es_trim_caution(i); i++)
        puts(es_trim_caution(i));
    for (int i = 0; es_trim_head_caution(face->adjust, i); i++)
        puts(es_trim_head_caution(face->adjust, i));
    putchar('\n');
    return begin(face);
}

es_trim_face es_trim_lines(void)
{
    return (es_trim_face){.begin = begin_plain, .show = show_plain, .idle = idle, .end = end};
}

/* --- JSON ------------------------------------------------------------------------------- */

static void show_json(es_trim_face *face, const es_trim_snapshot *now,
                      const es_session_facts *facts, uint64_t skipped)
{
    char *text;
    (void)facts;
    tell_skipped(skipped);
    if (es_trim_to_json(now, &text) != ES_OK) {
        es_say(NULL, "There is not enough memory to print a snapshot.");
        face->leaving = 1;
        return;
    }
    puts(text);
    fflush(stdout);
    free(text);
}

es_trim_face es_trim_json_lines(void)
{
    return (es_trim_face){.begin = begin, .show = show_json, .idle = idle, .end = end};
}
