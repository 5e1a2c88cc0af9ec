/*
 * Days of the calendar as the records write them (records.h, "times") and as numbers to reckon with:
 * whole days since 1 January 1970, UTC, by the Gregorian calendar.
 */
#ifndef ES_BASE_DAY_H
#define ES_BASE_DAY_H

#include <stddef.h>

/* The day of "2026-05-03" or "2026-05-03T14:05:00Z"; NaN: "" or neither. */
double es_day_of(const char *time);

/* "2026-05-03" into room bytes (11 at least). day: years 1 .. 9999, else out is "". */
void es_day_write(double day, char *out, size_t room);

#endif
