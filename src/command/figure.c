#include "command/figure.h"

#include "command/say.h"

#include <math.h>

/* No "-0.00". */
static double settled(double value, int decimals)
{
    return fabs(value) < 0.5 * pow(10.0, -decimals) ? 0.0 : value;
}

void es_figure_add(es_text *text, double value, int decimals, int sign)
{
    value = settled(value, decimals);
    es_text_add(text, sign && value != 0.0 ? "%+8.*f" : "%8.*f", decimals, value);
}

void es_figure_error(es_text *text, double error_percent, double u95_percent)
{
    if (isnan(error_percent)) {
        es_text_add(text, "%-21s", "not known");
        return;
    }
    double error = settled(error_percent, 3);
    es_text_add(text, error != 0.0 ? "%+7.3f %% +- " : "%7.3f %% +- ", error);
    es_text_add(text, u95_percent < 0.0005 ? "< 0.001 %%" : "%5.3f %%", u95_percent);
}

void es_figure_row(double error_percent, double u95_percent, const char *words)
{
    char figure[64], first[80];
    es_text text = es_text_over(figure, sizeof figure), start = es_text_over(first, sizeof first);
    es_figure_error(&text, error_percent, u95_percent);
    es_text_add(&start, "    %-22s", figure);
    es_wrap(stdout, first, "                          ", words);
}

void es_figure_percent(es_text *text, double percent)
{
    es_figure_adjusted(text, ES_ADJUST_SPEED, percent);
}

void es_figure_adjusted(es_text *text, es_adjust adjust, double value)
{
    const es_adjust_facts *f = es_adjust_facts_of(adjust);
    int decimals = f->decimals + 1;
    double shown = settled(value, decimals);
    es_text_add(text, shown != 0.0 ? "%+.*f %s" : "%.*f %s", decimals, shown, f->unit);
}
