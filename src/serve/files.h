/* The files of the page, built from page/ and held in the program. */
#ifndef ES_SERVE_FILES_H
#define ES_SERVE_FILES_H

#include <stddef.h>

typedef struct es_page_file {
    const char *path; /* "/page.js" */
    const char *type; /* of its content */
    const char *tag;  /* changes with the content */
    const unsigned char *data;
    size_t size;
} es_page_file;

extern const es_page_file es_page_files[];
extern const size_t es_page_file_count;

#endif
