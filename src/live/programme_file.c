#include "live/programme_file.h"

#include "evenspool/task/programme.h"
#include "live/small_file.h"

#include <string.h>

#define TEXT_MOST ((size_t)1 << 20) /* a programme in full takes a tenth of it */

es_status es_programme_fetch(const char *name, es_programme *out, char **text, size_t *length,
                             es_error *error)
{
    *text = NULL;
    *length = 0;
    if (es_programme_find(name, out) == ES_OK)
        return ES_OK;
    memset(out, 0, sizeof *out);
    es_error reading = {0};
    es_status status = es_small_file_read(name, TEXT_MOST, text, length, &reading);
    if (status != ES_OK && strcmp(reading.code, "missing") == 0)
        return es_fail(error, ES_ERR_INPUT, "no-programme",
                       "There is no built-in programme and no file of that name; evenspool tape "
                       "write --list lists the built-in ones.");
    return status == ES_OK ? ES_OK : es_fail(error, status, reading.code, "%s", reading.text);
}

es_status es_programme_judge(const es_programme *programme, es_programme_spot *spot,
                             es_error *error)
{
    return es_programme_check(programme, spot, error);
}

int es_programme_line_at(size_t index, es_programme_line *out)
{
    es_programme programme;
    if (es_programme_builtin(index, &programme) != ES_OK)
        return 0;
    *out = (es_programme_line){.name = es_programme_builtin_name(index),
                               .about = es_programme_builtin_about(index),
                               .side_count = programme.side_count,
                               .side_most_s = programme.side_most_s};
    for (size_t i = 0; i < programme.side_count; i++)
        out->side_s[i] = es_programme_side_s(&programme, i);
    return 1;
}
