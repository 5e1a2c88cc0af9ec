#include "command/tape_prompts.h"

#include "command/say.h"
#include "command/stop_signal.h"
#include "command/verb.h"

#include <errno.h>
#include <math.h>
#include <poll.h>
#include <string.h>
#include <unistd.h>

#define LOOK_MS 50

typedef struct prompt {
    const es_cue_sheet *sheet;
    const es_cue_side *side;
    es_tape_play *play;
    int live; /* standard error is a terminal: one line is kept up to date */
    int act;  /* told last; -1: none                                     */
    int counted;
    size_t section; /* told last */
    int seconds;    /* shown last */
} prompt;

/* --- the person's answer ---------------------------------------------------------------------- */

enum { NOTHING_YET, ENTER, NOBODY };

/* Waits for Enter, but not for long. */
static int look_for_enter(void)
{
    struct pollfd from = {.fd = STDIN_FILENO, .events = POLLIN};
    if (poll(&from, 1, LOOK_MS) <= 0)
        return NOTHING_YET;
    char typed[256];
    ssize_t count = read(STDIN_FILENO, typed, sizeof typed);
    if (count < 0)
        return errno == EINTR || errno == EAGAIN ? NOTHING_YET : NOBODY;
    return count == 0 ? NOBODY : memchr(typed, '\n', (size_t)count) ? ENTER : NOTHING_YET;
}

static int wait_a_little(void)
{
    poll(NULL, 0, LOOK_MS);
    return NOTHING_YET;
}

/* --- what is said ------------------------------------------------------------------------------- */

static void clear_line(const prompt *p)
{
    if (p->live)
        fputs("\r\033[K", stderr);
}

static void say_level(const prompt *p)
{
    const es_programme *programme = &p->sheet->programme;
    char line[400];
    es_text text = es_text_over(line, sizeof line);
    es_text_add(
        &text,
        "You hear the level tone now: %g Hz at reference level, on %s. Put the tape to the "
        "very beginning of side %c, noise reduction off, the deck in record and pause. Set "
        "the recording level so that both meters show 0, or the mark that the deck's manual "
        "gives for %g nWb/m, and leave it there for the whole tape.",
        es_tape_play_level_hz(p->play), es_tape_play_output(p->play), es_side_letter(p->side->side),
        programme->reference_nwb_m);
    es_wrap(stderr, "", "", line);
    fputs("Then press Enter.\n", stderr);
}

static void add_what(es_text *text, const prompt *p, size_t at)
{
    const es_programme_section *s = es_cue_section(p->sheet, p->side, at);
    es_text_add(text, "%s: ", s->name);
    es_cue_tones(text, &p->sheet->programme, s);
    if (es_section_rule_of(s->kind)->level) {
        es_text_add(text, ", ");
        es_cue_levels(text, s);
    }
}

static void say_section(const prompt *p, size_t at)
{
    const es_section_times *t = &p->side->times[at];
    char line[300];
    es_text text = es_text_over(line, sizeof line);
    es_cue_time(&text, t->start_s);
    es_text_add(&text, "  ");
    add_what(&text, p, at);
    es_text_add(&text, "; lasts ");
    es_cue_time(&text, t->next_s - t->start_s);
    if (at + 1 < es_cue_count(p->sheet, p->side))
        es_text_add(&text, ", then %s", es_cue_section(p->sheet, p->side, at + 1)->name);
    es_text_add(&text, "; ");
    es_cue_time(&text, p->side->length_s - t->start_s);
    es_text_add(&text, " left");
    clear_line(p);
    es_wrap(stderr, "", "      ", line);
}

static void show_place(prompt *p, const es_tape_play_now *now)
{
    int seconds = (int)now->side_s;
    char line[ES_LINE];
    if (!p->live || seconds == p->seconds)
        return;
    p->seconds = seconds;
    es_text text = es_text_over(line, sizeof line);
    es_cue_time(&text, now->side_s);
    es_text_add(&text, "  recording %s, ", es_cue_section(p->sheet, p->side, now->section)->name);
    es_cue_time(&text, now->section_left_s);
    es_text_add(&text, " to go; side ends in ");
    es_cue_time(&text, now->left_s);
    fprintf(stderr, "\r%s\033[K", line);
    fflush(stderr);
}

static void count_down(prompt *p, const es_tape_play_now *now)
{
    int seconds = (int)ceil(now->left_s);
    if (p->act != ES_TAPE_COUNT)
        fputs("Press record now: let the tape run.\n", stderr);
    if (seconds == p->counted)
        return;
    p->counted = seconds;
    fprintf(stderr, p->live ? "\rThe side begins in %d \033[K" : "The side begins in %d\n",
            seconds);
    fflush(stderr);
}

static void say_end(const prompt *p)
{
    int more = p->side->side + 1 < p->sheet->programme.side_count;
    clear_line(p);
    fprintf(stderr, "Side %c is recorded. Stop the deck, and fill in the cue sheet.\n",
            es_side_letter(p->side->side));
    if (more)
        fputs("For the other side turn the tape, leave the level as it is, and add --side b "
              "--ready.\n",
              stderr);
}

static void tell(prompt *p, const es_tape_play_now *now)
{
    if (now->act == ES_TAPE_LEVEL && p->act < 0)
        say_level(p);
    if (now->act == ES_TAPE_COUNT)
        count_down(p, now);
    if (now->act == ES_TAPE_SIDE) {
        if (p->act != ES_TAPE_SIDE || now->section != p->section)
            say_section(p, now->section);
        p->section = now->section;
        show_place(p, now);
    }
    p->act = (int)now->act;
}

/* --- the whole ------------------------------------------------------------------------------------- */

static int say_stopped(const prompt *p)
{
    clear_line(p);
    es_say(NULL, p->act == ES_TAPE_SIDE
                     ? "Stopped. The side is not complete: wind the tape back, and "
                       "record it again from the start."
                     : "Stopped before the side began.");
    return ES_EXIT_AROUND;
}

static int say_broken(const prompt *p, const es_tape_play_now *now)
{
    clear_line(p);
    es_say_error(NULL, &now->trouble);
    return ES_EXIT_AROUND;
}

static int say_nobody(void)
{
    es_say("tape write", "Nobody can press Enter here, since standard input has ended; add --ready "
                         "to begin without the level tone.");
    return ES_EXIT_USAGE;
}

int es_tape_prompt(const es_cue_sheet *sheet, es_tape_play *play, int ready)
{
    prompt p = {.sheet = sheet,
                .side = &sheet->sides[0],
                .play = play,
                .live = isatty(STDERR_FILENO),
                .act = -1,
                .seconds = -1};
    int told = ready; /* to go on: nothing is asked any more */
    if (told)
        es_tape_play_go(play);
    for (;;) {
        es_tape_play_now now = es_tape_play_feed(play);
        if (es_stop_asked())
            return say_stopped(&p);
        if (now.act == ES_TAPE_BROKEN)
            return say_broken(&p, &now);
        if (now.act == ES_TAPE_DONE) {
            say_end(&p);
            return ES_EXIT_DONE;
        }
        if (!told || now.act != ES_TAPE_LEVEL)
            tell(&p, &now);
        int answer = told ? wait_a_little() : look_for_enter();
        if (answer == NOBODY && !es_stop_asked())
            return say_nobody();
        if (answer == ENTER) {
            es_tape_play_go(play);
            told = 1;
        }
    }
}
