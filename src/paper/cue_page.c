#include "paper/cue_page.h"

#include <math.h>
#include <string.h>

#define LEFT 44.0
#define RIGHT (ES_CUE_PAGE_WIDTH - 44.0)
#define HEAD_TOP 40.0
#define FACTS_TOP 112.0
#define FACT_WIDTH ((RIGHT - LEFT) / 4.0)
#define TABLE_TOP 196.0
#define TABLE_BOTTOM 618.0
#define ROW_MOST 24.0
#define FORM_TOP 640.0
#define FORM_ROW 30.0
#define CAUTION_TOP 774.0

/* --- head and facts ----------------------------------------------------------------------------- */

static void paint_head(es_pen *pen, const es_cue_sheet *sheet, const es_cue_side *side)
{
    char title[96];
    es_text text = es_text_over(title, sizeof title);
    es_text_add(&text, "%s, side %c", sheet->programme.name,
                (char)(es_side_letter(side->side) - 'a' + 'A'));
    es_style small = {.size = 9.0, .ink = ES_INK_QUIET};
    es_style large = {
        .size = 22.0, .bold = 1, .ink = ES_INK_DARK, .width = RIGHT - LEFT, .lines = 1};
    es_style about = {.size = 10.0, .ink = ES_INK_DARK, .width = RIGHT - LEFT, .lines = 1};
    es_pen_write(pen, small, LEFT, HEAD_TOP, "Cue sheet of a home-made test tape");
    es_pen_write(pen, large, LEFT, HEAD_TOP + 13.0, title);
    es_pen_write(pen, about, LEFT, HEAD_TOP + 44.0, sheet->programme.about);
}

static void paint_fact(es_pen *pen, size_t place, const char *name, const char *value)
{
    size_t row = place / 4, column = place % 4;
    double x = LEFT + FACT_WIDTH * (double)column, y = FACTS_TOP + 36.0 * (double)row;
    es_style caption = {.size = 8.0, .ink = ES_INK_QUIET, .width = FACT_WIDTH - 8.0, .lines = 1};
    es_style figure = {
        .size = 11.0, .bold = 1, .ink = ES_INK_DARK, .width = FACT_WIDTH - 8.0, .lines = 1};
    es_pen_write(pen, caption, x, y, name);
    es_pen_write(pen, figure, x, y + 11.0, value);
}

static int is_time_constant(const char *name)
{
    return name[0] >= '0' && name[0] <= '9' && !strchr(name, '.');
}

static void paint_facts(es_pen *pen, const es_cue_sheet *sheet, const es_cue_side *side)
{
    const es_programme *p = &sheet->programme;
    char words[64];
    es_text text = es_text_over(words, sizeof words);
    paint_fact(pen, 0, "machine", p->transport);
    es_text_add(&text, "%.2f cm/s", 100.0 * sheet->speed_m_s);
    paint_fact(pen, 1, "tape speed", words);
    text = es_text_over(words, sizeof words);
    es_text_add(&text, "%s%s", p->equalisation,
                is_time_constant(p->equalisation) ? " \u00B5s" : "");
    paint_fact(pen, 2, "equalisation", words);
    text = es_text_over(words, sizeof words);
    es_text_add(&text, "%g nWb/m", p->reference_nwb_m);
    paint_fact(pen, 3, "reference level, 0 dB", words);
    text = es_text_over(words, sizeof words);
    es_cue_time(&text, side->length_s);
    es_text_add(&text, " of ");
    es_cue_time(&text, p->side_most_s);
    paint_fact(pen, 4, "length of the side", words);
    text = es_text_over(words, sizeof words);
    es_text_add(&text, "%u", sheet->id);
    paint_fact(pen, 5, "number in the markers", words);
    text = es_text_over(words, sizeof words);
    es_text_add(&text, isnan(sheet->reference_dbfs) ? "\u2013" : "%g dBFS", sheet->reference_dbfs);
    paint_fact(pen, 6, "reference level in the file", words);
    text = es_text_over(words, sizeof words);
    es_text_add(&text, isnan(sheet->rate_hz) ? "\u2013" : "%g Hz, 24 bit", sheet->rate_hz);
    paint_fact(pen, 7, "file", words);
}

/* --- table ----------------------------------------------------------------------------------------- */

typedef struct column {
    const char *name;
    double x, width, align;
} column;

enum { STARTS, LASTS, NAME, TONES, LEVEL, CHANNELS, COLUMNS };
static const column columns[COLUMNS] = {
    [STARTS] = {"starts", LEFT + 34.0, 0.0, 1.0},
    [LASTS] = {"lasts", LEFT + 74.0, 0.0, 1.0},
    [NAME] = {"section, and what it is for", LEFT + 88.0, 172.0, 0.0},
    [TONES] = {"what is recorded", LEFT + 264.0, 150.0, 0.0},
    [LEVEL] = {"level", LEFT + 416.0, 64.0, 0.0},
    [CHANNELS] = {"channel", RIGHT, 0.0, 1.0},
};

static void cell(es_pen *pen, int which, double y, es_style style, const char *words)
{
    const column *c = &columns[which];
    style.align = c->align;
    style.width = c->width;
    style.lines = c->width > 0.0 ? 1 : 0;
    es_pen_write(pen, style, c->x, y, words);
}

static void paint_row(es_pen *pen, const es_cue_sheet *sheet, const es_cue_side *side, size_t at,
                      double y, double height)
{
    const es_programme_section *s = es_cue_section(sheet, side, at);
    const es_section_rule *rule = es_section_rule_of(s->kind);
    double size = fmin(9.5, height * 0.42);
    es_style figure = {.size = size, .ink = ES_INK_DARK}, name = figure;
    es_style small = {.size = size * 0.8, .ink = ES_INK_QUIET};
    char words[96];
    double middle = y + 0.5 * height - 0.62 * size, upper = y + 0.5 * height - 1.15 * size;
    name.bold = 1;
    es_text text = es_text_over(words, sizeof words);
    es_cue_time(&text, side->times[at].start_s);
    cell(pen, STARTS, middle, figure, words);
    text = es_text_over(words, sizeof words);
    es_cue_time(&text, side->times[at].next_s - side->times[at].start_s);
    cell(pen, LASTS, middle, figure, words);
    cell(pen, NAME, upper, name, s->name);
    cell(pen, NAME, upper + 1.2 * size, small, rule ? rule->about : "");
    text = es_text_over(words, sizeof words);
    es_cue_tones(&text, &sheet->programme, s);
    cell(pen, TONES, middle, figure, words);
    text = es_text_over(words, sizeof words);
    es_cue_levels(&text, s);
    cell(pen, LEVEL, middle, figure, words);
    cell(pen, CHANNELS, middle, figure, es_cue_channels(s));
}

static void paint_table(es_pen *pen, const es_cue_sheet *sheet, const es_cue_side *side)
{
    size_t count = es_cue_count(sheet, side);
    es_style heading = {.size = 8.0, .ink = ES_INK_QUIET};
    for (int c = 0; c < COLUMNS; c++)
        cell(pen, c, TABLE_TOP, heading, columns[c].name);
    double top = TABLE_TOP + 15.0, height = fmin(ROW_MOST, (TABLE_BOTTOM - top) / (double)count);
    for (size_t i = 0; i < count; i++) {
        double y = top + height * (double)i;
        es_pen_line(pen, ES_INK_HAIR, 0.6, (es_point){LEFT, y}, (es_point){RIGHT, y});
        paint_row(pen, sheet, side, i, y, height);
    }
    double end = top + height * (double)count;
    es_pen_line(pen, ES_INK_HAIR, 0.6, (es_point){LEFT, end}, (es_point){RIGHT, end});
}

/* --- to be filled in by hand ------------------------------------------------------------------------- */

static void paint_field(es_pen *pen, size_t row, double from, double to, const char *name)
{
    double x = LEFT + (RIGHT - LEFT) * from, end = LEFT + (RIGHT - LEFT) * to - 8.0;
    double y = FORM_TOP + FORM_ROW * (double)row;
    es_style caption = {.size = 8.0, .ink = ES_INK_QUIET};
    es_pen_write(pen, caption, x, y + FORM_ROW - 9.0, name);
    es_pen_line(pen, ES_INK_QUIET, 0.6, (es_point){x, y + FORM_ROW - 11.0},
                (es_point){end, y + FORM_ROW - 11.0});
}

static void paint_form(es_pen *pen)
{
    paint_field(pen, 0, 0.0, 0.5, "recorded on deck");
    paint_field(pen, 0, 0.5, 0.75, "date");
    paint_field(pen, 0, 0.75, 1.0, "by");
    paint_field(pen, 1, 0.0, 0.5, "tape: make, type, number");
    paint_field(pen, 1, 0.5, 0.75, "level control stood at");
    paint_field(pen, 1, 0.75, 1.0, "meters showed");
    paint_field(pen, 2, 0.0, 0.5, "certificate: speed error of the recording deck, %");
    paint_field(pen, 2, 0.5, 0.75, "\u00B1 %");
    paint_field(pen, 2, 0.75, 1.0, "from, date");
    paint_field(pen, 3, 0.0, 1.0, "notes");
}

static void paint_caution(es_pen *pen)
{
    es_style words = {.size = 8.5, .ink = ES_INK_DARK, .width = RIGHT - LEFT};
    es_pen_write(pen, words, LEFT, CAUTION_TOP,
                 "Keep it away from magnetic fields: loudspeakers, motors, transformers, a running "
                 "head demagnetiser. Store it wound to the end of a side, cool, upright. Break out "
                 "the tabs of a cassette, so that nobody records over it. Noise reduction is off "
                 "when it is recorded and when it is played.");
}

void es_cue_page_paint(es_pen *pen, const es_cue_sheet *sheet, const es_cue_side *side)
{
    paint_head(pen, sheet, side);
    paint_facts(pen, sheet, side);
    paint_table(pen, sheet, side);
    paint_form(pen);
    paint_caution(pen);
}
