/* What both channels are doing, as part of the snapshot's document evenspool.align/1. */
#ifndef ES_JSON_PAIR_JSON_H
#define ES_JSON_PAIR_JSON_H

#include "evenspool/base/pair_view.h"
#include "json/document.h"

/* Into the object as "pair"; null: nothing is known. */
void es_pair_to_json(es_json *json, es_json_part *into, const es_pair_view *pair);

#endif
