#include "command/cue_text.h"

#include "command/say.h"

#include <math.h>
#include <string.h>

static void print_head(FILE *out, const es_cue_sheet *sheet, const es_cue_side *side)
{
    const es_programme *p = &sheet->programme;
    char length[16], most[16], line[240];
    es_text text = es_text_over(length, sizeof length);
    es_cue_time(&text, side->length_s);
    text = es_text_over(most, sizeof most);
    es_cue_time(&text, p->side_most_s);
    fprintf(out, "%s, side %c: %s of %s min\n", p->name, es_side_letter(side->side), length, most);
    text = es_text_over(line, sizeof line);
    es_text_add(&text, "%s at %.2f cm/s, equalisation %s, reference level (0 dB) %g nWb/m",
                p->transport, 100.0 * sheet->speed_m_s, p->equalisation, p->reference_nwb_m);
    if (!isnan(sheet->reference_dbfs))
        es_text_add(&text, " = %g dBFS", sheet->reference_dbfs);
    es_text_add(&text, ", number in the markers %u.", sheet->id);
    es_wrap(out, "", "", line);
    if (side->file[0]) {
        char shown[1024];
        fprintf(out, "In %s\n", es_shown(side->file, shown, sizeof shown));
    }
}

static void print_section(FILE *out, const es_cue_sheet *sheet, const es_cue_side *side, size_t at)
{
    const es_programme_section *s = es_cue_section(sheet, side, at);
    const es_section_rule *rule = es_section_rule_of(s->kind);
    const es_section_times *t = &side->times[at];
    char starts[16], lasts[16], tones[64], level[32];
    es_text text = es_text_over(starts, sizeof starts);
    es_cue_time(&text, t->start_s);
    text = es_text_over(lasts, sizeof lasts);
    es_cue_time(&text, t->next_s - t->start_s);
    text = es_text_over(tones, sizeof tones);
    es_cue_tones(&text, &sheet->programme, s);
    text = es_text_over(level, sizeof level);
    es_cue_levels(&text, s);
    if (strcmp(es_cue_channels(s), "both") != 0)
        es_text_add(&text, " %s", es_cue_channels(s));
    fprintf(out, "%5s %6s  %-24s %-27s %s\n", starts, lasts, s->name, tones, level);
    fprintf(out, "%14s%s\n", "", rule ? rule->about : "");
}

static void print_side(FILE *out, const es_cue_sheet *sheet, const es_cue_side *side)
{
    print_head(out, sheet, side);
    fprintf(out, "\n%6s %5s  %-24s %-27s %s\n", "starts", "lasts", "section, for",
            "what is recorded", "level");
    for (size_t i = 0; i < es_cue_count(sheet, side); i++)
        print_section(out, sheet, side, i);
}

void es_cue_text_print(FILE *out, const es_cue_sheet *sheet)
{
    for (size_t i = 0; i < sheet->side_count; i++) {
        fputs(i ? "\n" : "", out);
        print_side(out, sheet, &sheet->sides[i]);
    }
    fputs("\nRecorded on deck ______________________  date ___________  by ______________\n"
          "Tape ______________________  level control stood at ______  meters showed ____\n"
          "Certificate: speed error of that deck ________ % +- ______ %  from ___________\n\n",
          out);
    es_wrap(
        out, "", "",
        "Keep the tape away from magnetic fields: loudspeakers, motors, transformers, a running "
        "head demagnetiser. Noise reduction is off when it is recorded and when it is played.");
}
