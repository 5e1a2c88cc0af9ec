#include "evenspool/base/status.h"

static const char *const texts[] = {
    [ES_OK] = "done",
    [ES_ERR_ARG] = "an argument is out of range",
    [ES_ERR_NOMEM] = "out of memory",
    [ES_ERR_SPACE] = "the output array is too short",
    [ES_ERR_INPUT] = "the input can't be used",
    [ES_ERR_IO] = "a file, socket or database refused",
    [ES_ERR_DEVICE] = "an audio device is missing, busy or unplugged",
    [ES_ERR_INTERNAL] = "a fault of the program",
};
_Static_assert(sizeof texts / sizeof *texts == ES_STATUS_COUNT, "one text per status");

const char *es_status_text(es_status status)
{
    return (unsigned)status < ES_STATUS_COUNT ? texts[status] : "unknown status";
}
