/* Text that JSON can carry: file names may be any bytes, JSON is UTF-8 (RFC 8259 section 8.1). */
#ifndef ES_JSON_UTF8_H
#define ES_JSON_UTF8_H

/*
 * A copy in which every byte that belongs to no well-formed character (RFC 3629 section 4) became
 * U+FFFD; to be freed by the caller. NULL: no memory.
 */
char *es_utf8_clean(const char *text);

#endif
