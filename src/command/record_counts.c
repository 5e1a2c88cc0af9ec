#include "command/record_counts.h"

#include "command/say.h"
#include "command/verb.h"
#include "evenspool/base/text.h"
#include "json/document.h"

#include <stdlib.h>
#include <string.h>

/* "budget_lines" -> "budget lines", of one "budget line". */
static void add_kind(es_text *text, const es_record_kind *kind, size_t count)
{
    size_t length = strlen(kind->plural) - (count == 1);
    es_text_add(text, "%s%zu ", text->length ? ", " : "", count);
    for (size_t i = 0; i < length; i++)
        es_text_add(text, "%c", kind->plural[i] == '_' ? ' ' : kind->plural[i]);
}

const char *es_record_counts_text(const es_exchange_counts *counts, char *out, size_t room)
{
    es_text text = es_text_over(out, room);
    for (int type = 0; type < ES_RECORD_TYPE_COUNT; type++)
        if (counts->of[type] > 0)
            add_kind(&text, &es_record_kinds()[type], counts->of[type]);
    if (text.length == 0)
        es_text_add(&text, "no records");
    return out;
}

int es_record_counts_json(const es_exchanged *exchanged)
{
    es_json *json;
    char *text = NULL;
    if (es_json_create(&json) == ES_OK) {
        es_json_part *root = es_json_root(json);
        es_json_text(json, root, "schema", "evenspool.exchange/1");
        es_json_text(json, root, "version", ES_VERSION);
        es_json_text(json, root, "file", exchanged->file);
        es_json_text(json, root, "exported_at", exchanged->exported_at);
        es_json_text(json, root, "written_by", exchanged->written_by);
        es_json_part *records = es_json_object(json, root, "records");
        for (int type = 0; type < ES_RECORD_TYPE_COUNT; type++)
            es_json_count(json, records, es_record_kinds()[type].plural,
                          (int64_t)exchanged->counts.of[type]);
        es_json_print(json, 1, &text);
        es_json_destroy(json);
    }
    if (!text) {
        es_say(NULL, "There is not enough memory to print the counts.");
        return ES_EXIT_AROUND;
    }
    puts(text);
    free(text);
    return es_end_of_output(ES_EXIT_DONE);
}
