/* The right column: reasons of the verdict, warnings, components, and the caution where work
 * follows. */
#include "paper/page.h"

#include "evenspool/base/text.h"

#include <math.h>

#define SIZE_MOST 8.5
#define SIZE_LEAST 7.5
#define HEAD 16.0
#define BETWEEN 3.5  /* notes */
#define SECTION 10.0 /* sections */
#define INDENT 9.0
#define MORE_ROOM 12.0

static const char caution[] =
    "Before the cover comes off: mains voltage can be close to the trimmer and stays on some parts "
    "when the deck is off. Local rules come first; leave it to a qualified person where they ask "
    "for one or you are unsure.";

static es_style note_style(double size, es_box area)
{
    return (es_style){size, 0, ES_INK_DARK, 0.0, area.right - area.left - INDENT, 0};
}

static double height_of(es_pen *pen, const es_notes *notes, size_t count, double size, es_box area)
{
    double height = notes->count ? HEAD + SECTION : 0.0;
    for (size_t i = 0; i < count; i++)
        height += es_pen_measure(pen, note_style(size, area), notes->at[i].text).height + BETWEEN;
    return height + (count < notes->count ? MORE_ROOM : 0.0);
}

/* As many notes as fit into the room, at least none. */
static size_t fitting(es_pen *pen, const es_notes *notes, double size, es_box area, double room)
{
    size_t count = notes->count;
    while (count > 0 && height_of(pen, notes, count, size, area) > room)
        count--;
    return count;
}

static double write_notes(es_pen *pen, const char *heading, const es_notes *notes, size_t count,
                          double size, es_box area)
{
    double y = area.top;
    if (notes->count == 0)
        return y;
    es_pen_write(pen, (es_style){10.0, 1, ES_INK_DARK, 0.0, 0.0, 0}, area.left, y, heading);
    y += HEAD;
    for (size_t i = 0; i < count; i++) {
        es_pen_fill(pen, ES_INK_QUIET,
                    (es_box){area.left, y + size * 0.42, area.left + 3.5, y + size * 0.42 + 3.5});
        y += es_pen_write(pen, note_style(size, area), area.left + INDENT, y, notes->at[i].text)
                 .height +
             BETWEEN;
    }
    if (count < notes->count) {
        char more[64];
        es_text text = es_text_over(more, sizeof more);
        es_text_add(&text, "and %zu more, in the written report", notes->count - count);
        es_pen_write(pen, (es_style){SIZE_LEAST, 1, ES_INK_QUIET, 0.0, 0.0, 0}, area.left + INDENT,
                     y, more);
        y += MORE_ROOM;
    }
    return y + SECTION;
}

/* Returns the top of the caution: where the notes must end. */
static double write_caution(es_pen *pen, es_box area)
{
    const double pad = 6.0;
    es_style style = {7.5, 0, ES_INK_DARK, 0.0, area.right - area.left - 2.0 * pad - 4.0, 0};
    double height = es_pen_measure(pen, style, caution).height;
    double top = area.bottom - height - 2.0 * pad;
    es_pen_frame(pen, ES_INK_DARK, 0.8, (es_box){area.left, top, area.right, area.bottom});
    es_pen_fill(pen, ES_INK_DARK, (es_box){area.left, top, area.left + 4.0, area.bottom});
    es_pen_write(pen, style, area.left + pad + 4.0, top + pad, caution);
    return top - SECTION;
}

void es_notes_column_paint(es_pen *pen, const es_check_result *result, es_box area)
{
    const es_notes *reasons = &result->gate.reasons, *warnings = &result->warnings;
    es_box room = area;
    if (result->gate.verdict != ES_VERDICT_LEAVE)
        room.bottom = write_caution(pen, area);
    double size = SIZE_MOST, all = room.bottom - room.top;
    while (size > SIZE_LEAST && height_of(pen, reasons, reasons->count, size, area) +
                                        height_of(pen, warnings, warnings->count, size, area) >
                                    all)
        size -= 0.25;
    /* Reasons go first, but warnings keep up to a third of the column. */
    double kept = fmin(all / 3.0, height_of(pen, warnings, warnings->count, size, area));
    size_t count = fitting(pen, reasons, size, area, all - kept);
    room.top = write_notes(pen, "Why", reasons, count, size, room);
    count = fitting(pen, warnings, size, area, room.bottom - room.top);
    room.top = write_notes(pen, "To bear in mind", warnings, count, size, room);
    es_components_paint(pen, result, room);
}
