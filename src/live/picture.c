#include "live/picture.h"

#include "paper/picture.h"

#include <math.h>
#include <string.h>

int es_picture_is_named(const char *path)
{
    const char *ending = strrchr(path, '.');
    return ending && (strcasecmp(ending, ".png") == 0 || strcasecmp(ending, ".svg") == 0 ||
                      strcasecmp(ending, ".pdf") == 0);
}

es_status es_picture_write(const es_check_result *result, const char *title,
                           double tolerance_percent, const char *path, es_error *error)
{
    es_picture picture = es_picture_of(result, title);
    if (!isnan(tolerance_percent))
        picture.tolerance_percent = tolerance_percent;
    return es_picture_draw_page(&picture, path, error);
}
