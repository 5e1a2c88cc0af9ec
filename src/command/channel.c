#include "command/channel.h"

#include "command/options.h"

#include <math.h>
#include <string.h>

es_status es_channel_read(const char *text, int *out, es_error *error)
{
    double number;
    *out = 0;
    if (!text || strcmp(text, "auto") == 0)
        return ES_OK;
    if (strcmp(text, "left") == 0)
        *out = 1;
    else if (strcmp(text, "right") == 0)
        *out = 2;
    else if (es_number_read(text, &number) && number >= 1.0 && number <= 64.0 &&
             number == floor(number))
        *out = (int)number;
    return *out ? ES_OK
                : es_fail(error, ES_ERR_ARG, "usage",
                          "--channel is left, right, auto or a number from 1 to 64, not \"%.60s\".",
                          text);
}
