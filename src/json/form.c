#include "json/form.h"

#include <jansson.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define NAME_SHOWN 40 /* characters of a stranger's key that a sentence repeats */

struct es_form {
    json_t *root;
    json_t *asked; /* keys asked for so far, as an object */
};

es_status es_form_read(const char *text, size_t length, es_form **out, es_error *error)
{
    *out = NULL;
    es_form *form = calloc(1, sizeof *form);
    if (!form || !(form->asked = json_object())) {
        es_form_destroy(form);
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    }
    json_error_t fault;
    form->root = json_loadb(text, length, JSON_REJECT_DUPLICATES, &fault);
    if (!form->root)
        es_fail(error, ES_ERR_INPUT, "not-json", "What was sent is not JSON (line %d, column %d).",
                fault.line, fault.column);
    else if (!json_is_object(form->root))
        es_fail(error, ES_ERR_INPUT, "not-an-object", "What was sent is JSON, but not an object.");
    if (!json_is_object(form->root)) {
        es_form_destroy(form);
        return ES_ERR_INPUT;
    }
    *out = form;
    return ES_OK;
}

void es_form_destroy(es_form *form)
{
    if (!form)
        return;
    json_decref(form->root);
    json_decref(form->asked);
    free(form);
}

int es_form_has(const es_form *form, const char *key)
{
    const json_t *value = json_object_get(form->root, key);
    return value && !json_is_null(value);
}

static const json_t *ask(es_form *form, const char *key)
{
    json_object_set_new(form->asked, key, json_true());
    return json_object_get(form->root, key);
}

es_status es_form_number(es_form *form, const char *key, double *out, es_error *error)
{
    const json_t *value = ask(form, key);
    if (!value)
        return ES_OK;
    if (!json_is_number(value) && !json_is_null(value))
        return es_fail(error, ES_ERR_INPUT, "wrong-kind", "%s must be a number.", key);
    *out = json_is_null(value) ? (double)NAN : json_number_value(value);
    return ES_OK;
}

es_status es_form_truth(es_form *form, const char *key, int *out, es_error *error)
{
    const json_t *value = ask(form, key);
    if (!value)
        return ES_OK;
    if (!json_is_boolean(value) && !json_is_null(value))
        return es_fail(error, ES_ERR_INPUT, "wrong-kind", "%s must be true or false.", key);
    *out = json_is_true(value);
    return ES_OK;
}

es_status es_form_text(es_form *form, const char *key, char *out, size_t room, es_error *error)
{
    const json_t *value = ask(form, key);
    if (!value)
        return ES_OK;
    if (!json_is_string(value) && !json_is_null(value))
        return es_fail(error, ES_ERR_INPUT, "wrong-kind", "%s must be a text.", key);
    size_t length = json_is_null(value) ? 0 : json_string_length(value);
    const char *text = json_is_null(value) ? "" : json_string_value(value);
    if (length >= room)
        return es_fail(error, ES_ERR_INPUT, "too-long", "%s is too long; %zu bytes are the most.",
                       key, room - 1);
    memcpy(out, text, length + 1);
    return ES_OK;
}

es_status es_form_end(const es_form *form, es_error *error)
{
    const char *key;
    json_t *value;
    json_object_foreach(form->root, key, value)
    {
        if (!json_object_get(form->asked, key))
            return es_fail(error, ES_ERR_INPUT, "unknown-key", "There is nothing called \"%.*s\".",
                           NAME_SHOWN, key);
    }
    return ES_OK;
}
