/* The pairing address as a QR code (ISO/IEC 18004), for the terminal and for the page. */
#ifndef ES_SERVE_PAIRING_H
#define ES_SERVE_PAIRING_H

#include "evenspool/base/status.h"

/*
 * Two rows of modules a line of half blocks, light modules drawn, four light modules all around.
 * *out is the caller's to free, NULL on error. ES_ERR_ARG: too long for a code; ES_ERR_NOMEM.
 */
es_status es_pairing_text(const char *address, char **out);

/* An SVG picture, black on white, with the same margin. The like of es_pairing_text(). */
es_status es_pairing_svg(const char *address, char **out);

#endif
