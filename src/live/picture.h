/* The picture of a measurement: paper's page, within reach of the command line. */
#ifndef ES_LIVE_PICTURE_H
#define ES_LIVE_PICTURE_H

#include "evenspool/base/check_result.h"
#include "evenspool/base/error.h"

/* 1: the ending of the name is one of a picture (.png, .svg, .pdf). */
int es_picture_is_named(const char *path);

/* tolerance_percent NaN: the usual one. Errors: es_picture_draw_page() in paper/picture.h. */
es_status es_picture_write(const es_check_result *result, const char *title,
                           double tolerance_percent, const char *path, es_error *error);

#endif
