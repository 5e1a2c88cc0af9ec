#include "store/store.h"

#include "evenspool/base/text.h"

#include <stdlib.h>

/* The XDG Base Directory Specification 0.8: a value that is not an absolute path is ignored. */
static const char *absolute(const char *variable)
{
    const char *value = getenv(variable);
    return value && value[0] == '/' ? value : NULL;
}

es_status es_store_default_path(char *out, size_t room, es_error *error)
{
    const char *data = absolute("XDG_DATA_HOME"), *home = absolute("HOME");
    es_text text = es_text_over(out, room);
    if (data)
        es_text_add(&text, "%s/evenspool/records.db", data);
    else if (home)
        es_text_add(&text, "%s/.local/share/evenspool/records.db", home);
    else
        return es_fail(error, ES_ERR_INPUT, "no-home",
                       "Neither XDG_DATA_HOME nor HOME says where the records are; name the file "
                       "with --records.");
    if (!text.cut)
        return ES_OK;
    out[0] = '\0';
    return es_fail(error, ES_ERR_SPACE, "path-too-long", "The path of the records is too long.");
}
