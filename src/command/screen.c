#include "command/screen.h"

#include "command/big.h"
#include "command/trim_text.h"
#include "evenspool/base/text.h"

#include <math.h>
#include <string.h>

#define COLUMNS_LEAST 20
#define COLUMNS_MOST 120
#define LINES_FOR_BIG 20

typedef struct sheet {
    const es_screen_view *view;
    es_screen *out;
    int columns;
} sheet;

/* --- lines ---------------------------------------------------------------------------- */

static es_text new_line(sheet *s, es_emphasis how)
{
    es_screen *out = s->out;
    int at = out->count < ES_SCREEN_LINES ? out->count++ : ES_SCREEN_LINES - 1;
    out->at[at].how = how;
    return es_text_over(out->at[at].text, ES_SCREEN_ROOM);
}

static void blank(sheet *s)
{
    new_line(s, ES_PLAIN);
}

/* Bytes of the text that fit into so many columns. */
static size_t fitting(const char *text, int columns)
{
    size_t bytes = 0;
    for (int used = 0; text[bytes]; bytes++) {
        used += ((unsigned char)text[bytes] & 0xC0) != 0x80;
        if (used > columns)
            break;
    }
    return bytes;
}

/* The text in at most `most` lines, broken at spaces; what is left over is cut. */
static void wrap(sheet *s, es_emphasis how, const char *text, int most)
{
    int lines = 0;
    while (*text && lines < most) {
        size_t whole = strlen(text), fits = fitting(text, s->columns), cut = fits;
        if (fits < whole && text[fits] != ' ')
            while (cut > 0 && text[cut - 1] != ' ')
                cut--;
        if (cut == 0)
            cut = fits;
        es_text line = new_line(s, how);
        es_text_add(&line, "%.*s", (int)cut, text);
        text += cut + strspn(text + cut, " ");
        lines++;
    }
}

static void one_line(sheet *s, es_emphasis how, const char *text)
{
    es_text line = new_line(s, how);
    es_text_add(&line, "%.*s", (int)fitting(text, s->columns), text);
}

/* --- parts ---------------------------------------------------------------------------- */

static void head(sheet *s)
{
    char room[700], time[24];
    const es_trim_snapshot *now = s->view->now;
    es_text clock = es_text_over(time, sizeof time);
    es_trim_say_time(&clock, now->time_s);
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "%s  %.60s", time, s->view->facts->standing.source);
    if (now->adjust != ES_ADJUST_SPEED)
        es_text_add(&text, "  %s", es_adjust_facts_of(now->adjust)->name);
    else if (!isnan(now->nominal_hz))
        es_text_add(&text, "  tone %g Hz", now->nominal_hz);
    if (!isnan(now->tape_error_percent))
        es_text_add(&text, "  tape's %+.2f %% taken off", now->tape_error_percent);
    one_line(s, ES_PLAIN, room);
}

static void say_big(es_text *out, const es_trim_snapshot *now, const es_session_facts *facts)
{
    static const char *const words[] = {
        [ES_TRIM_LISTENING] = "LISTEN", [ES_TRIM_UNSTEADY] = "WAIT", [ES_TRIM_TURNING] = "TURNING",
        [ES_TRIM_SETTLING] = "WAIT",    [ES_TRIM_READING] = "WAIT",  [ES_TRIM_THERE] = "WAIT",
        [ES_TRIM_LOOK_FIRST] = "STOP"};
    if (facts->standing.phase == ES_SESSION_WAITING) {
        es_text_add(out, "NO INPUT");
    } else if (!es_trim_has_figure(now)) {
        es_text_add(out, "%s", words[now->state]);
    } else {
        int decimals = es_trim_decimals(now);
        double value =
            fabs(now->error_percent) < 0.5 * pow(10.0, -decimals) ? 0.0 : now->error_percent;
        es_text_add(out, value == 0.0 ? "%.*f" : "%+.*f", decimals, value);
    }
}

static es_emphasis emphasis_of(const es_trim_snapshot *now)
{
    switch (now->state) {
    case ES_TRIM_THERE:
        return ES_GOOD;
    case ES_TRIM_LOOK_FIRST:
        return ES_WRONG;
    case ES_TRIM_READING:
        return ES_STRONG;
    default:
        return ES_CAREFUL;
    }
}

static void big(sheet *s)
{
    char room[32];
    es_text words = es_text_over(room, sizeof room);
    const es_trim_snapshot *now = s->view->now;
    say_big(&words, now, s->view->facts);
    const char *dot = s->view->utf8 ? "\xE2\x96\x88" : "#";
    int wide = es_big_columns(room, s->columns - 4);
    for (int i = 0; i < ES_BIG_LINES; i++) {
        es_text line = new_line(s, emphasis_of(now));
        if (wide == 0 && i == ES_BIG_LINES / 2)
            es_text_add(&line, "  %s", room);
        if (wide == 0)
            continue;
        es_text_add(&line, "  ");
        es_big_line(&line, room, i, s->columns - 4, dot);
        if (i == ES_BIG_LINES - 1 && es_trim_has_figure(now) && wide + 5 < s->columns)
            es_text_add(&line, "  %s", es_adjust_facts_of(now->adjust)->unit);
    }
}

static void direction(sheet *s)
{
    static const char *const plain[] = {"vvv", "===", "^^^"};
    static const char *const drawn[] = {"\xE2\x96\xBC\xE2\x96\xBC\xE2\x96\xBC",
                                        "===", "\xE2\x96\xB2\xE2\x96\xB2\xE2\x96\xB2"};
    char room[240];
    const es_trim_snapshot *now = s->view->now;
    es_text text = es_text_over(room, sizeof room);
    if (es_trim_has_figure(now)) {
        double off = now->error_percent - now->target_percent;
        int way = fabs(off) <= now->tolerance_percent ? 1 : off > 0.0 ? 2 : 0;
        es_text_add(&text, "  %s ", s->view->utf8 ? drawn[way] : plain[way]);
        es_trim_say_direction(&text, now);
    } else {
        es_text_add(&text, "  %s", es_trim_state_words(now, s->view->facts));
    }
    one_line(s, ES_STRONG, room);
}

/* Column of an error on a scale that is fine in the middle and coarse at the ends. */
static int place_on(double off, double tolerance, double most, int half)
{
    double end = asinh(most / tolerance);
    double at = asinh(off / tolerance) / end;
    return half + (int)lround(fmax(-1.0, fmin(1.0, at)) * half);
}

static void scale(sheet *s)
{
    const es_trim_snapshot *now = s->view->now;
    int half = (s->columns - 16) / 2;
    if (half < 10 || !(now->tolerance_percent > 0.0))
        return;
    const es_adjust_facts *f = es_adjust_facts_of(now->adjust);
    double most = f->target_most; /* at the ends of the scale */
    int low = place_on(-now->tolerance_percent, now->tolerance_percent, most, half);
    int high = place_on(now->tolerance_percent, now->tolerance_percent, most, half);
    int at = -1;
    if (es_trim_has_figure(now))
        at = place_on(now->error_percent - now->target_percent, now->tolerance_percent, most, half);
    es_text line = new_line(s, ES_PLAIN);
    es_text_add(&line, "  %s ", f->down);
    for (int i = 0; i <= 2 * half; i++) {
        char mark = i == half ? '|' : i > low && i < high ? '=' : '-';
        mark = (char)(i == low ? '[' : i == high ? ']' : mark);
        es_text_add(&line, "%c", i == at ? 'O' : mark);
    }
    es_text_add(&line, " %s", f->up);
    es_text under = new_line(s, ES_PLAIN);
    es_text_add(&under, "%*s[ ] within %g %s of %s", (int)strlen(f->down) + 3, "",
                now->tolerance_percent, f->unit,
                now->target_percent == 0.0 ? f->zero : "the target");
}

static void channels(sheet *s)
{
    char room[240];
    es_text text = es_text_over(room, sizeof room);
    es_trim_say_pair(&text, s->view->now);
    if (room[0])
        one_line(s, ES_PLAIN, room);
}

static void nudges(sheet *s)
{
    char room[300];
    const es_trim_snapshot *now = s->view->now;
    if (now->nudge_count == 0) {
        for (int i = 0; es_trim_caution(i); i++)
            one_line(s, ES_CAREFUL, es_trim_caution(i));
        for (int i = 0; es_trim_head_caution(now->adjust, i); i++)
            one_line(s, ES_CAREFUL, es_trim_head_caution(now->adjust, i));
        return;
    }
    size_t kept = now->nudge_count < ES_NUDGES_MOST ? now->nudge_count : ES_NUDGES_MOST;
    size_t from = kept > 4 ? kept - 4 : 0;
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "Turns so far %zu: %s", now->nudge_count, from > 0 ? "... " : "");
    for (size_t i = from; i < kept; i++) {
        es_text_add(&text, "%s", i > from ? ", then " : "");
        es_trim_say_nudge(&text, now->adjust, &now->nudges[i]);
    }
    wrap(s, ES_PLAIN, room, 3);
}

static void state_of_things(sheet *s)
{
    const es_session_facts *f = s->view->facts;
    const es_session_standing *at = &f->standing;
    char room[640];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "%s", at->level_words[0] ? at->level_words : "");
    if (at->gaps > 0)
        es_text_add(&text, "%sInput was lost %llu times.", text.length ? " " : "",
                    (unsigned long long)at->gaps);
    if (at->record_path[0] && !at->record_sentence[0])
        es_text_add(&text, "%sRecording.", text.length ? " " : "");
    if (f->sound)
        es_text_add(&text, "%sSound: %s at %.0f dB.", text.length ? " " : "",
                    es_trim_sound_name(f->sound), f->sound_level_db);
    one_line(s, at->level_words[0] ? ES_CAREFUL : ES_PLAIN, room);
    if (at->sentence[0])
        wrap(s, ES_CAREFUL, at->sentence, 2);
    if (at->record_sentence[0]) {
        es_text why = es_text_over(room, sizeof room);
        es_text_add(&why, "Recording has stopped: %s", at->record_sentence);
        wrap(s, ES_CAREFUL, room, 2);
    }
    if (f->sound_sentence[0])
        one_line(s, ES_CAREFUL, f->sound_sentence);
    if (s->view->remark[0])
        one_line(s, ES_PLAIN, s->view->remark);
}

static void key_help(sheet *s)
{
    const es_session_facts *f = s->view->facts;
    char room[160];
    es_text text = es_text_over(room, sizeof room);
    es_text_add(&text, "q ends, s sound");
    if (f->has_trimmer)
        es_text_add(&text, "; trimmer %+.2f turns: left right (, .) a little, down up more",
                    f->trimmer_turns);
    one_line(s, ES_PLAIN, room);
}

/* Takes blank lines out, from below, until the rest fits. */
static void squeeze(es_screen *out, int lines)
{
    for (int i = out->count - 1; i >= 0 && out->count > lines; i--)
        if (out->at[i].text[0] == '\0') {
            memmove(&out->at[i], &out->at[i + 1], (size_t)(out->count - i - 1) * sizeof out->at[0]);
            out->count--;
        }
    if (out->count > lines) {
        out->at[lines - 1] = out->at[out->count - 1]; /* the keys stay in sight */
        out->count = lines;
    }
}

void es_screen_compose(const es_screen_view *view, es_screen *out)
{
    sheet s = {.view = view, .out = out, .columns = view->columns};
    if (s.columns > COLUMNS_MOST)
        s.columns = COLUMNS_MOST;
    if (s.columns < COLUMNS_LEAST)
        s.columns = COLUMNS_LEAST;
    out->count = 0;
    head(&s);
    blank(&s);
    if (view->lines >= LINES_FOR_BIG) /* else what to do would not be seen */
        big(&s);
    blank(&s);
    direction(&s);
    scale(&s);
    channels(&s);
    blank(&s);
    wrap(&s, ES_STRONG, view->now->advice, 3);
    if (view->now->note[0])
        wrap(&s, ES_PLAIN, view->now->note, 2);
    blank(&s);
    nudges(&s);
    state_of_things(&s);
    key_help(&s);
    squeeze(out, view->lines > 1 ? view->lines : 1);
}
