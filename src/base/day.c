#include "evenspool/base/day.h"

#include "evenspool/base/text.h"

#include <math.h>
#include <string.h>

#define DAYS_OF_400_YEARS 146097
#define TO_1970 719468 /* days from 1 March of the year 0 */

/*
 * Years are counted from 1 March, so that the leap day is the last of its year; then months follow each
 * other in a pattern of five (153 days).
 */
static long day_number(long year, long month, long day)
{
    year -= month <= 2;
    long era = year / 400, of_era = year % 400;
    long of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    return era * DAYS_OF_400_YEARS + of_era * 365 + of_era / 4 - of_era / 100 + of_year - TO_1970;
}

static long digits(const char *at, int count)
{
    long value = 0;
    for (int i = 0; i < count; i++) {
        if (at[i] < '0' || at[i] > '9')
            return -1;
        value = 10 * value + (at[i] - '0');
    }
    return value;
}

double es_day_of(const char *time)
{
    size_t length = strlen(time);
    if (length < 10 || time[4] != '-' || time[7] != '-' || (length > 10 && time[10] != 'T'))
        return (double)NAN;
    long year = digits(time, 4), month = digits(time + 5, 2), day = digits(time + 8, 2);
    if (year < 1 || month < 1 || month > 12 || day < 1 || day > 31)
        return (double)NAN;
    return (double)day_number(year, month, day);
}

void es_day_write(double day, char *out, size_t room)
{
    es_text text = es_text_over(out, room);
    if (!(day >= (double)day_number(1, 1, 1) && day <= (double)day_number(9999, 12, 31)))
        return;
    long number = (long)floor(day) + TO_1970;
    long era = number / DAYS_OF_400_YEARS, of_era = number % DAYS_OF_400_YEARS;
    long year = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
    long of_year = of_era - (365 * year + year / 4 - year / 100);
    long pattern = (5 * of_year + 2) / 153;
    long month = pattern < 10 ? pattern + 3 : pattern - 9;
    es_text_add(&text, "%04ld-%02ld-%02ld", era * 400 + year + (month <= 2), month,
                of_year - (153 * pattern + 2) / 5 + 1);
}
