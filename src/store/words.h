/* What a text looks like. Each returns 1 or 0; none looks at what another promises. */
#ifndef ES_STORE_WORDS_H
#define ES_STORE_WORDS_H

int es_words_utf8(const char *text);     /* well formed: Unicode 15, table 3-7           */
int es_words_one_line(const char *text); /* no control characters, not only blanks       */
int es_words_key(const char *text);      /* a-z 0-9 . / _ -                              */
int es_words_time(const char *text);     /* 2026-05-03 or 2026-05-03T14:05:00Z, a day of */
                                         /* the calendar                                 */
int es_words_sha256(const char *text);   /* 64 of 0-9 a-f                                */

#endif
