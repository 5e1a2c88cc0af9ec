#include "live/desk.h"

#include <errno.h>
#include <pthread.h>
#include <time.h>

#define PATIENCE_S 2

/* The sound system is one in a program, so this is too. */
static struct {
    pthread_mutex_t lock;
    pthread_cond_t back;
    int out;
    es_place places[ES_DESK_PLACES];
    size_t count;
} desk = {.lock = PTHREAD_MUTEX_INITIALIZER, .back = PTHREAD_COND_INITIALIZER};

/* 1: it was there and is taken now. */
static int take_it(void)
{
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_sec += PATIENCE_S;
    int late = 0;
    while (desk.out && !late)
        late = pthread_cond_timedwait(&desk.back, &desk.lock, &until) == ETIMEDOUT;
    int taken = !desk.out;
    if (taken) {
        desk.out = 1;
        desk.count = 0;
    }
    return taken;
}

static void put_back(void)
{
    pthread_mutex_lock(&desk.lock);
    desk.out = 0;
    pthread_cond_signal(&desk.back);
    pthread_mutex_unlock(&desk.lock);
}

static void note_places(const es_sound *sound)
{
    const es_place *place;
    pthread_mutex_lock(&desk.lock);
    while (desk.count < ES_DESK_PLACES && (place = es_sound_place(sound, desk.count)))
        desk.places[desk.count++] = *place;
    pthread_mutex_unlock(&desk.lock);
}

es_status es_desk_borrow(es_sound **out, es_error *error)
{
    *out = NULL;
    pthread_mutex_lock(&desk.lock);
    int taken = take_it();
    pthread_mutex_unlock(&desk.lock);
    if (!taken)
        return es_fail(error, ES_ERR_DEVICE, "sound-lent",
                       "The sound system is in use by this program already; end that first.");
    es_status status = es_sound_open(out, error);
    if (status == ES_OK)
        note_places(*out);
    else
        put_back();
    return status;
}

void es_desk_return(es_sound *sound)
{
    if (!sound)
        return;
    es_sound_close(sound);
    put_back();
}

int es_desk_look(es_place out[ES_DESK_PLACES], size_t *count)
{
    pthread_mutex_lock(&desk.lock);
    int is_out = desk.out;
    *count = is_out ? desk.count : 0;
    for (size_t i = 0; i < *count; i++)
        out[i] = desk.places[i];
    pthread_mutex_unlock(&desk.lock);
    return is_out;
}
