/* The screen of `trim`, and its keys. */
#include "command/trim_face.h"

#include "command/screen.h"
#include "command/terminal.h"
#include "command/trim_text.h"
#include "evenspool/base/text.h"

#include <stdlib.h>
#include <string.h>

#define FINE_TURNS 0.01
#define COARSE_TURNS 0.1
#define SOUNDS 4
#define REFERENCE 1

typedef struct screen_face {
    es_paint paint;
    int utf8, shown; /* shown: there is something on the screen */
    char remark[120];
    es_trim_snapshot now;
    es_session_facts facts;
    es_screen screen, drawn;
} screen_face;

static int begin(es_trim_face *face)
{
    screen_face *s = calloc(1, sizeof *s);
    if (!s)
        return 0;
    face->self = s;
    s->paint = es_paint_for(stdout, face->colour);
    s->utf8 = es_terminal_shows_utf8();
    es_terminal_enter();
    return 1;
}

/* Only lines that have changed are written. */
static void draw(screen_face *s)
{
    int columns, lines, anew = es_terminal_is_blank();
    es_terminal_size(&columns, &lines);
    es_screen_view view = {.now = &s->now,
                           .facts = &s->facts,
                           .remark = s->remark,
                           .columns = columns,
                           .lines = lines < ES_SCREEN_LINES ? lines : ES_SCREEN_LINES,
                           .utf8 = s->utf8};
    es_screen_compose(&view, &s->screen);
    int most = s->screen.count > s->drawn.count ? s->screen.count : s->drawn.count;
    for (int i = 0; i < most; i++) {
        static const es_screen_line nothing = {.how = ES_PLAIN};
        const es_screen_line *new = i < s->screen.count ? &s->screen.at[i] : &nothing;
        const es_screen_line *old = i < s->drawn.count ? &s->drawn.at[i] : &nothing;
        if (!anew && new->how == old->how && strcmp(new->text, old->text) == 0)
            continue;
        printf("\033[%d;1H", i + 1);
        es_paint_text(&s->paint, new->how, new->text);
        fputs("\033[K", stdout);
    }
    s->drawn = s->screen;
    fflush(stdout);
}

static void show(es_trim_face *face, const es_trim_snapshot *now, const es_session_facts *facts,
                 uint64_t skipped)
{
    screen_face *s = face->self;
    s->now = *now;
    s->facts = *facts;
    (void)skipped; /* the newest is what counts here */
    s->shown = 1;
    draw(s);
}

/* --- keys ------------------------------------------------------------------------------ */

static void turn(es_trim_face *face, double turns)
{
    screen_face *s = face->self;
    if (es_session_turn(face->session, turns) != ES_OK) {
        es_text remark = es_text_over(s->remark, sizeof s->remark);
        es_text_add(&remark, "The trimmer is on the deck: turn it there.");
    }
}

static void next_sound(es_trim_face *face)
{
    screen_face *s = face->self;
    es_error error = {0};
    int kind = (face->sound + 1) % SOUNDS;
    if (kind == REFERENCE && face->adjust != ES_ADJUST_SPEED)
        kind++; /* there is none */
    es_text remark = es_text_over(s->remark, sizeof s->remark);
    if (es_session_sound(face->session, kind, face->sound_level_db, face->output, &error) ==
        ES_OK) {
        face->sound = kind;
        es_text_add(&remark, "Sound: %s.", es_trim_sound_name(kind));
    } else {
        face->sound = 0;
        es_text_add(&remark, "%s", error.text);
    }
}

static void obey_letter(es_trim_face *face, int letter)
{
    switch (letter) {
    case '.':
    case '>':
        turn(face, letter == '.' ? FINE_TURNS : COARSE_TURNS);
        break;
    case ',':
    case '<':
        turn(face, letter == ',' ? -FINE_TURNS : -COARSE_TURNS);
        break;
    case 's':
        next_sound(face);
        break;
    case 'q':
    case 'Q':
        face->leaving = 1;
        break;
    default:
        break;
    }
}

static void idle(es_trim_face *face)
{
    screen_face *s = face->self;
    es_key key;
    int letter;
    while ((key = es_terminal_key(&letter)) != ES_KEY_NONE) {
        s->remark[0] = '\0';
        switch (key) {
        case ES_KEY_RIGHT:
            turn(face, FINE_TURNS);
            break;
        case ES_KEY_LEFT:
            turn(face, -FINE_TURNS);
            break;
        case ES_KEY_UP:
            turn(face, COARSE_TURNS);
            break;
        case ES_KEY_DOWN:
            turn(face, -COARSE_TURNS);
            break;
        case ES_KEY_END:
            face->leaving = 1;
            return;
        default:
            obey_letter(face, letter);
            break;
        }
    }
    s->facts = es_session_facts_of(face->session);
    if (s->shown)
        draw(s);
}

static void end(es_trim_face *face)
{
    es_terminal_leave();
    free(face->self);
    face->self = NULL;
}

es_trim_face es_trim_screen(void)
{
    return (es_trim_face){.begin = begin, .show = show, .idle = idle, .end = end};
}
