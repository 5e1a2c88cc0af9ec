#include "serve/record_form.h"

#include <math.h>
#include <string.h>

#define WHOLE_MOST 9007199254740992.0 /* 2^53: up to here a number of JSON is exact */

static int is_left(const char *const *leave, const char *name)
{
    for (; leave && *leave; leave++)
        if (strcmp(*leave, name) == 0)
            return 1;
    return 0;
}

void es_form_record(es_form *form, es_record_type type, const char *const *leave, void *record,
                    es_error *error)
{
    const es_record_kind *kind = &es_record_kinds()[type];
    for (size_t i = 0; i < kind->field_count; i++) {
        const es_record_field *field = &kind->fields[i];
        void *at = (char *)record + field->offset;
        if (is_left(leave, field->name))
            continue;
        if (field->type == ES_FIELD_NUMBER)
            es_form_number(form, field->name, at, error);
        else if (field->type == ES_FIELD_TEXT)
            es_form_text(form, field->name, at, field->room, error);
    }
}

void es_form_whole(es_form *form, const char *key, int64_t *out, es_error *error)
{
    double number = (double)*out;
    es_form_number(form, key, &number, error);
    if (isnan(number))
        number = 0.0;
    if (number >= 0.0 && number <= WHOLE_MOST && number == floor(number))
        *out = (int64_t)number;
    else
        es_fail(error, ES_ERR_INPUT, "wrong-kind", "%s must be a whole number from 0.", key);
}
