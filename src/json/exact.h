/* Numbers as JSON with the fewest digits that are read back to the same number, bit for bit. */
#ifndef ES_JSON_EXACT_H
#define ES_JSON_EXACT_H

#define ES_EXACT_ROOM 40

/* Writes into out and returns it; not finite: "null". A zero loses its sign. */
const char *es_exact_number(double value, char out[ES_EXACT_ROOM]);

#endif
