#include "command/paint.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static int terminal_takes_colour(FILE *out)
{
    const char *no = getenv("NO_COLOR"), *term = getenv("TERM");
    return (!no || !no[0]) && term && term[0] && strcmp(term, "dumb") != 0 && isatty(fileno(out));
}

es_paint es_paint_for(FILE *out, const char *when)
{
    int on = !when || strcmp(when, "auto") == 0 ? terminal_takes_colour(out)
                                                : strcmp(when, "always") == 0;
    return (es_paint){out, on};
}

void es_paint_text(const es_paint *paint, es_emphasis how, const char *text)
{
    static const char *const codes[] = {[ES_PLAIN] = "0",
                                        [ES_STRONG] = "1",
                                        [ES_GOOD] = "1;32",
                                        [ES_CAREFUL] = "1;33",
                                        [ES_WRONG] = "1;31"};
    if (paint->on && how != ES_PLAIN)
        fprintf(paint->out, "\033[%sm%s\033[0m", codes[how], text);
    else
        fputs(text, paint->out);
}
