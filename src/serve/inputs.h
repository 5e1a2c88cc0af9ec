/* The inputs of this computer, as the page offers them. */
#ifndef ES_SERVE_INPUTS_H
#define ES_SERVE_INPUTS_H

#include "serve/serve.h"

/* The like of es_serve_config.inputs; who is not used. Errors: es_inputs_look(). */
es_status es_serve_list_inputs(void *who, es_serve_input *list, size_t room, size_t *count,
                               es_error *error);

#endif
