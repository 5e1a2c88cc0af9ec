#include "live/ledger_inside.h"

#include "evenspool/base/text.h"
#include "evenspool/trust/uncertainty.h"
#include "live/geometry.h"

#include <math.h>
#include <string.h>
#include <time.h>

void es_ledger_now(char out[ES_TIME_ROOM])
{
    time_t now = time(NULL);
    struct tm parts;
    out[0] = '\0';
    if (gmtime_r(&now, &parts))
        strftime(out, ES_TIME_ROOM, "%Y-%m-%dT%H:%M:%SZ", &parts);
}

double es_ledger_today(void)
{
    char now[ES_TIME_ROOM];
    es_ledger_now(now);
    return es_day_of(now);
}

es_status es_ledger_time(const char *given, const char *otherwise, char out[ES_TIME_ROOM],
                         es_error *error)
{
    es_text text = es_text_over(out, ES_TIME_ROOM);
    es_text_add(&text, "%s", given && given[0] ? given : otherwise);
    if (!given || !given[0])
        return ES_OK;
    if (text.cut || isnan(es_day_of(given)))
        return es_fail(
            error, ES_ERR_ARG, "bad-day",
            "The day \"%.40s\" can't be read; write it as 2026-05-03, or with the time as "
            "2026-05-03T14:05:00Z (UTC).",
            given);
    if (es_day_of(given) > es_ledger_today() + 1.0) /* somewhere it is tomorrow already */
        return es_fail(error, ES_ERR_ARG, "bad-day",
                       "The day %s has not come yet; check it, and the computer's clock.", given);
    return ES_OK;
}

es_status es_ledger_text(const char *what, const char *from, char *to, size_t room, es_error *error)
{
    size_t length = from ? strlen(from) : 0;
    to[0] = '\0';
    if (length >= room)
        return es_fail(error, ES_ERR_ARG, "too-long", "The %s is too long; %zu bytes are the most.",
                       what, room - 1);
    if (length > 0)
        memcpy(to, from, length + 1);
    return ES_OK;
}

void es_ledger_day_text(const char *time, char out[ES_TIME_ROOM])
{
    es_text text = es_text_over(out, ES_TIME_ROOM);
    es_text_add(&text, "%.10s", time);
}

es_status es_ledger_class(const char *transport, es_error *error)
{
    es_geometry unused;
    return es_geometry_of(transport, NULL, NULL, &unused, error);
}

double es_ledger_u_of(double u95_percent)
{
    return es_u_from_expanded(u95_percent, es_coverage_factor(ES_LEVEL_95, (double)INFINITY));
}

es_status es_ledger_no_memory(es_error *error)
{
    return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
}
