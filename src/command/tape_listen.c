#include "command/tape_listen.h"

#include "command/say.h"
#include "command/stop_signal.h"
#include "command/terminal.h"
#include "command/verb.h"
#include "evenspool/base/cue_sheet.h"
#include "evenspool/base/text.h"

#include <math.h>
#include <stdio.h>
#include <unistd.h>

#define LOOK_S 0.1

typedef struct listener {
    FILE *out;
    int live; /* out is a terminal: one line is kept up to date */
    int seconds, shown;
    int told[ES_PROGRAMME_SECTIONS]; /* the section's line is printed */
    size_t index;                    /* of the section in turn, when it was looked at last */
    int side_told, strange_told;
    es_session_phase phase;
    uint64_t gaps;
    char level_words[80], record_sentence[240];
    es_tape_listening now;
} listener;

static void clear_line(listener *l)
{
    if (l->shown)
        fputs("\r\033[K", l->out);
    l->shown = 0;
    fflush(l->out);
}

static void add_clock(es_text *text, double seconds)
{
    char time[16];
    es_text clock = es_text_over(time, sizeof time);
    es_cue_time(&clock, seconds);
    es_text_add(text, "%6s  ", time);
}

/* --- sections -------------------------------------------------------------------------------- */

static void tell_side(listener *l)
{
    const es_tape_listening *now = &l->now;
    const es_tape_result *r = &now->so_far;
    char line[120];
    es_text text = es_text_over(line, sizeof line);
    if (l->side_told || r->side == 0)
        return;
    l->side_told = 1;
    add_clock(&text, now->time_s);
    es_text_add(&text, "Programme %s, side %c; ", r->programme,
                es_side_letter((size_t)r->side - 1));
    es_cue_time(&text, now->left_s);
    es_text_add(&text, " to go.");
    clear_line(l);
    fprintf(l->out, "%s\n", line);
}

static void tell_section(listener *l, size_t at, es_tape_state state)
{
    static const char *const words[] = {[ES_TAPE_TO_COME] = "",
                                        [ES_TAPE_NOW] = "",
                                        [ES_TAPE_HEARD] = "heard",
                                        [ES_TAPE_IN_PART] = "heard in part",
                                        [ES_TAPE_MISSED] = "not heard"};
    const es_tape_section *s = &l->now.so_far.sections[at];
    char first[80], line[240], figures[120];
    es_text text = es_text_over(first, sizeof first);
    add_clock(&text, isfinite(s->end_s) ? s->end_s : l->now.time_s);
    es_text_add(&text, "%-20s ", s->name);
    text = es_text_over(line, sizeof line);
    es_text_add(&text, "%s", words[state]);
    if (s->found && !s->marker)
        es_text_add(&text, ", its marker not");
    es_tape_section_words(&l->now.so_far, at, figures, sizeof figures);
    if (figures[0])
        es_text_add(&text, ": %s", figures);
    clear_line(l);
    es_wrap(l->out, first, "                             ", line);
}

static void tell_sections(listener *l)
{
    const es_tape_result *r = &l->now.so_far;
    for (size_t i = l->now.index; l->now.index < l->index && i < r->section_count; i++)
        l->told[i] = 0; /* wound back: they come again */
    l->index = l->now.index;
    for (size_t i = 0; i < r->section_count; i++) {
        es_tape_state state = es_tape_state_of(&l->now, i);
        es_section_kind kind = r->sections[i].kind;
        int over = state != ES_TAPE_TO_COME && state != ES_TAPE_NOW;
        if (!over || l->told[i] || kind == ES_SECTION_LEADER || kind == ES_SECTION_END)
            continue;
        l->told[i] = 1;
        tell_section(l, i, state);
    }
}

/* --- around it ----------------------------------------------------------------------------------- */

static void tell_around(listener *l)
{
    const es_tape_listening *now = &l->now;
    const es_session_standing *at = &now->standing;
    if (at->phase != l->phase || at->gaps != l->gaps || now->strange_id)
        clear_line(l);
    if (at->phase == ES_SESSION_WAITING && l->phase != ES_SESSION_WAITING)
        es_say(NULL, "%s", at->sentence);
    if (at->phase == ES_SESSION_RUNNING && l->phase == ES_SESSION_WAITING)
        es_say(NULL, "The input is back.");
    else if (at->gaps != l->gaps)
        es_say(NULL, "The computer lost input; what played then is not measured.");
    l->phase = at->phase;
    l->gaps = at->gaps;
    if (now->strange_id && !l->strange_told && now->so_far.side == 0) {
        es_say(
            NULL,
            "The markers are those of programme number %u, which is not built in: stop, and name "
            "the programme's file with --programme.",
            now->strange_id);
        l->strange_told = 1;
    }
    if (es_is_new(at->level_words, l->level_words, sizeof l->level_words)) {
        clear_line(l);
        es_say(NULL, "%s", at->level_words);
    }
    if (es_is_new(at->record_sentence, l->record_sentence, sizeof l->record_sentence)) {
        clear_line(l);
        es_say(NULL, "Recording has stopped: %s", at->record_sentence);
    }
}

/* Where the tape stands, in one line of a terminal. */
static void show_place(listener *l)
{
    const es_tape_listening *now = &l->now;
    const es_tape_result *r = &now->so_far;
    char line[ES_LINE];
    int seconds = (int)now->time_s;
    es_text text = es_text_over(line, sizeof line);
    if (!l->live || (l->shown && seconds == l->seconds))
        return;
    l->seconds = seconds;
    add_clock(&text, now->time_s);
    if (now->standing.phase == ES_SESSION_WAITING)
        es_text_add(&text, "waiting for the input");
    else if (r->side == 0)
        es_text_add(&text, "no marker of a test tape yet");
    else if (now->index < r->section_count)
        es_text_add(
            &text, "%s%s%s", r->sections[now->index].name, now->measuring ? "" : " comes next",
            now->measuring && !r->sections[now->index].marker ? ", its marker not heard" : "");
    else
        es_text_add(&text, "the end");
    if (isfinite(now->left_s)) {
        es_text_add(&text, "; ");
        es_cue_time(&text, now->left_s);
        es_text_add(&text, " to go");
    }
    if (isfinite(now->error_percent))
        es_text_add(&text, "; speed %+.2f %%", now->error_percent);
    fprintf(l->out, "\r%s\033[K", line);
    fflush(l->out);
    l->shown = 1;
}

/* --- the whole -------------------------------------------------------------------------------------- */

static void begin(listener *l)
{
    const es_session_standing *at = &l->now.standing;
    const char *name = at->device[0] ? at->device : at->source;
    char first[400];
    es_text text = es_text_over(first, sizeof first);
    es_text_add(
        &text,
        "Listening to %s. Play the side from its beginning, noise reduction off. It ends with "
        "the side, or with %sCtrl-C.",
        name, l->live ? "q or " : "");
    es_wrap(l->out, "", "", first);
    fflush(l->out);
}

/* 1: the person wants to end. */
static int asked_to_end(void)
{
    es_key key;
    int letter;
    while ((key = es_terminal_key(&letter)) != ES_KEY_NONE)
        if (key == ES_KEY_OTHER && (letter == 'q' || letter == 'Q'))
            return 1;
    return es_stop_asked();
}

static void follow(listener *l, es_tape_session *session)
{
    uint64_t news = 0;
    int ending = 0, got = 0;
    while (got >= 0) {
        got = es_tape_session_next(session, &news, LOOK_S, &l->now);
        tell_around(l);
        tell_side(l);
        tell_sections(l);
        show_place(l);
        fflush(l->out);
        if (!ending && (asked_to_end() || ferror(l->out))) {
            es_tape_session_stop(session);
            ending = 1;
        }
    }
}

static int code_of(const es_session_standing *at)
{
    if (at->phase == ES_SESSION_FAILED) {
        es_say(at->source, "%s", at->sentence);
        return es_exit_of(at->status);
    }
    return at->record_sentence[0] ? ES_EXIT_AROUND : ES_EXIT_DONE;
}

es_status es_tape_listen(const es_tape_session_config *config, int json, es_tape_result *result,
                         int *around, const char **about, es_error *error)
{
    static listener l; /* large; one at a time, as the terminal is */
    uint64_t news = 0;
    es_tape_session *session;
    l = (listener){.out = json ? stderr : stdout};
    *around = ES_EXIT_DONE;
    es_stop_watch(es_terminal_leave);
    es_status status = es_tape_session_open(config, &session, error);
    *about = status == ES_ERR_IO    ? config->record_path
             : status == ES_ERR_ARG ? "tape read"
                                    : config->source;
    if (status != ES_OK)
        return status;
    l.live = json ? isatty(STDERR_FILENO) : es_terminal_can_draw();
    (void)es_tape_session_next(session, &news, 0.0, &l.now);
    begin(&l);
    if (l.live)
        es_terminal_listen();
    follow(&l, session);
    es_terminal_leave();
    clear_line(&l);
    fprintf(l.out, "%s\n%s", es_tape_ending_words(l.now.ending), json ? "" : "\n");
    fflush(l.out);
    *around = code_of(&l.now.standing);
    status = es_tape_session_result(session, result, error);
    es_tape_session_close(session);
    return status;
}
