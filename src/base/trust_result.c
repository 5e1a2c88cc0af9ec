#include "evenspool/base/trust_result.h"

#include <stdlib.h>

void es_trust_result_destroy(es_trust_result *result)
{
    if (!result)
        return;
    free(result->decks);
    free(result->tapes);
    free(result->links);
    free(result->suspects);
    free(result->next);
    free(result);
}
