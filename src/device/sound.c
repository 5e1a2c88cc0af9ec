#include "device/sound.h"

#include "device/portaudio_backend.h"
#include "evenspool/base/text.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

/* --- life ---------------------------------------------------------------------------------- */

static es_status make_list(es_sound *s, es_error *error)
{
    free(s->places);
    s->places = NULL;
    s->count = 0;
    es_status status = s->backend.list(s->backend.self, &s->places, &s->count, error);
    s->listed_ns = s->backend.now_ns(s->backend.self);
    return status;
}

es_status es_sound_over(es_backend backend, es_sound **out, es_error *error)
{
    *out = NULL;
    es_sound *s = calloc(1, sizeof *s);
    if (!s) {
        backend.destroy(backend.self);
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory for sound.");
    }
    s->backend = backend;
    es_status status = make_list(s, error);
    if (status == ES_OK)
        *out = s;
    else
        es_sound_close(s);
    return status;
}

es_status es_sound_open(es_sound **out, es_error *error)
{
    *out = NULL;
    es_backend backend;
    es_status status = es_portaudio_backend(&backend, error);
    return status == ES_OK ? es_sound_over(backend, out, error) : status;
}

void es_sound_close(es_sound *s)
{
    if (!s)
        return;
    assert(!s->lines);
    s->backend.destroy(s->backend.self);
    free(s->places);
    free(s);
}

es_status es_sound_look_again(es_sound *s, es_error *error)
{
    for (es_line *l = s->lines; l; l = l->next)
        es_line_suspend(l);
    es_status status = make_list(s, error);
    for (es_line *l = s->lines; l; l = l->next)
        es_line_resume(l);
    return status;
}

/* --- places -------------------------------------------------------------------------------- */

const es_place *es_sound_place(const es_sound *s, size_t index)
{
    return index < s->count ? &s->places[index] : NULL;
}

size_t es_sound_index(const es_sound *s, const es_place *place)
{
    return (size_t)(place - s->places);
}

const es_place *es_sound_same_place(const es_sound *s, const es_line *l)
{
    for (size_t i = 0; i < s->count; i++) {
        const es_place *p = &s->places[i];
        if (strcmp(p->name, l->name) == 0 && strcmp(p->system, l->system) == 0 &&
            (l->take ? p->inputs : p->outputs) >= l->channels)
            return p;
    }
    return NULL;
}

/* How well a name fits: 3 the same, 2 but for capitals, 1 a part, 0 not. */
static int fit(const es_place *p, const char *name, int with_inputs)
{
    if ((with_inputs ? p->inputs : p->outputs) < 1)
        return 0;
    if (name[0] == '\0')
        return (with_inputs ? p->first_in : p->first_out) ? 2 : 1;
    if (strcmp(p->name, name) == 0)
        return 3;
    if (strcasecmp(p->name, name) == 0)
        return 2;
    return strcasestr(p->name, name) != NULL;
}

/* The names that fit at least so well: "a", "b", "c" as far as there is room. */
static void list_names(const es_sound *s, const char *name, int with_inputs, int least,
                       es_text *names)
{
    for (size_t i = 0; i < s->count; i++) {
        const es_place *p = &s->places[i];
        if (fit(p, name, with_inputs) < least)
            continue;
        if (names->length + strlen(p->name) + 8 > names->room) {
            es_text_add(names, " ...");
            return;
        }
        es_text_add(names, "%s\"%s\"", names->length ? ", " : "", p->name);
    }
}

static es_status say_none(const es_sound *s, const char *name, int with_inputs, es_error *error)
{
    char room[200];
    es_text names = es_text_over(room, sizeof room);
    list_names(s, "", with_inputs, 1, &names);
    if (names.length > 0)
        return es_fail(error, ES_ERR_DEVICE, "no-such-device",
                       "No sound %s is called \"%.60s\"; there are: %s.",
                       with_inputs ? "input" : "output", name, room);
    if (with_inputs)
        return es_fail(error, ES_ERR_DEVICE, "no-input",
                       "This computer has no sound input that can be used; connect a sound card "
                       "with a line input and try again.");
    return es_fail(error, ES_ERR_DEVICE, "no-output",
                   "This computer has no sound output that can be used; connect a sound card or "
                   "go on without sound.");
}

static es_status say_several(const es_sound *s, const char *name, int with_inputs, es_error *error)
{
    char room[200];
    es_text names = es_text_over(room, sizeof room);
    list_names(s, name, with_inputs, 1, &names);
    return es_fail(error, ES_ERR_DEVICE, "several-devices",
                   "Several sound %s are called like \"%.60s\": %s; give more of the name.",
                   with_inputs ? "inputs" : "outputs", name, room);
}

es_status es_sound_find(const es_sound *s, const char *name, int with_inputs, const es_place **out,
                        es_error *error)
{
    *out = NULL;
    int best = 0, several = 0;
    const es_place *found = NULL;
    for (size_t i = 0; i < s->count; i++) {
        int how = fit(&s->places[i], name, with_inputs);
        if (how > best) {
            best = how;
            found = &s->places[i];
            several = 0;
        } else if (how > 0 && how == best) {
            several |= strcmp(found->name, s->places[i].name) != 0;
        }
    }
    if (!found)
        return say_none(s, name, with_inputs, error);
    if (several && best == 1 && name[0] != '\0')
        return say_several(s, name, with_inputs, error);
    *out = found;
    return ES_OK;
}
