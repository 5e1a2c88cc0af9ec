#include "evenspool/base/history.h"

#include <stdlib.h>

void es_history_destroy(es_history *history)
{
    if (!history)
        return;
    free(history->epochs);
    free(history->jobs);
    free(history->nudges);
    free(history->remarks);
    free(history->readings);
    free(history->plays);
    free(history->anchors);
    free(history->answers);
    free(history->budget);
    free(history);
}
