/* What live sessions stand on, unless a test gives them something else. */
#include "live/session_inside.h"

#include "live/desk.h"

static es_status borrow_from_desk(void *who, es_sound **out, es_error *error)
{
    (void)who;
    return es_desk_borrow(out, error);
}

static void return_to_desk(void *who, es_sound *sound)
{
    (void)who;
    es_desk_return(sound);
}

es_session_ground es_session_ground_of(const es_session_ground *ground)
{
    es_session_ground full = {0};
    if (ground)
        full = *ground;
    if (!full.borrow) {
        full.borrow = borrow_from_desk;
        full.give_back = return_to_desk;
    }
    return full;
}
