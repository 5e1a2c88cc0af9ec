/* What others ask of the worker: to turn the trimmer, to aim elsewhere, to make a sound. */
#include "live/session.h"

#include "evenspool/base/text.h"
#include "live/session_inside.h"

#include <math.h>
#include <string.h>

#define TURNS_MOST 20.0
#define LEVEL_LEAST_DB (-80.0)
#define LEVEL_MOST_DB (-12.0) /* ES_SOUNDER_CEILING */

/* --- asked ------------------------------------------------------------------------------ */

es_status es_session_turn(es_session *s, double turns)
{
    if (!(fabs(turns) <= TURNS_MOST))
        return ES_ERR_ARG;
    pthread_mutex_lock(&s->life.lock);
    int there = s->facts.has_trimmer;
    if (there) {
        s->turns += turns;
        pthread_cond_signal(&s->work);
    }
    pthread_mutex_unlock(&s->life.lock);
    return there ? ES_OK : ES_ERR_ARG;
}

es_status es_session_aim(es_session *s, double target_percent, double tolerance_percent)
{
    double unit = es_session_unit(&s->config);
    pthread_mutex_lock(&s->coach_lock);
    es_status status = es_trim_aim(s->trim, unit * target_percent, unit * tolerance_percent);
    pthread_mutex_unlock(&s->coach_lock);
    return status;
}

static es_status judge_sound(const es_session *s, int kind, double level_db, const char *output,
                             es_error *error)
{
    if (kind < 0 || kind >= ES_SOUNDER_KIND_COUNT)
        return es_fail(error, ES_ERR_ARG, "bad-sound",
                       "The sounds are none, reference, beat and guide.");
    if (kind == ES_SOUNDER_REFERENCE && s->config.adjust != ES_ADJUST_SPEED)
        return es_fail(error, ES_ERR_ARG, "bad-sound",
                       "The reference tone is for the speed; choose beat or guide.");
    if (kind > 0 && !(level_db >= LEVEL_LEAST_DB && level_db <= LEVEL_MOST_DB))
        return es_fail(error, ES_ERR_ARG, "bad-level",
                       "A sound's level is from -80 to -12 dB re full scale.");
    if (strlen(output) >= sizeof s->order.output)
        return es_fail(error, ES_ERR_ARG, "bad-output", "No output has a name that long.");
    if (kind > 0 && s->config.unpaced)
        return es_fail(error, ES_ERR_ARG, "unpaced",
                       "Sound needs a source in real time; leave out --unpaced.");
    return ES_OK;
}

/* Under the lock. */
static es_status await_answer(es_session *s, es_error *error)
{
    pthread_cond_signal(&s->work);
    while (!s->order.answered && !s->life.over)
        pthread_cond_wait(&s->life.news, &s->life.lock);
    if (!s->order.answered)
        return es_fail(error, ES_ERR_ARG, "over", "The session is over; begin another.");
    es_error *answer = &s->order.answer;
    if (answer->status == ES_OK)
        return ES_OK;
    return es_fail(error, answer->status, answer->code, "%s", answer->text);
}

es_status es_session_sound(es_session *s, int kind, double level_db, const char *output,
                           es_error *error)
{
    es_status status = judge_sound(s, kind, level_db, output, error);
    if (status != ES_OK)
        return status;
    pthread_mutex_lock(&s->life.lock);
    s->life.inside++;
    while (s->order.asked && !s->life.over) /* somebody else's */
        pthread_cond_wait(&s->life.news, &s->life.lock);
    s->order = (es_sound_order){.asked = 1, .kind = kind, .level_db = level_db};
    memcpy(s->order.output, output, strlen(output) + 1);
    status = await_answer(s, error);
    s->order.asked = 0;
    s->life.inside--;
    pthread_cond_broadcast(&s->life.news);
    pthread_mutex_unlock(&s->life.lock);
    return status;
}

/* --- done ------------------------------------------------------------------------------- */

es_status es_session_need_sound(es_session *s, es_error *error)
{
    return s->line.sound ? ES_OK : s->line.ground.borrow(s->line.ground.who, &s->line.sound, error);
}

/* The voice goes on at the same output, so that nothing breaks off. */
static es_status have_voice(es_session *s, const es_sound_order *order, es_error *error)
{
    if (es_voice_is_at(s->voice, order->output))
        return ES_OK;
    es_voice_destroy(s->voice);
    s->voice = NULL;
    es_status status = es_session_need_sound(s, error);
    return status == ES_OK ? es_voice_create(s->line.sound, order->output, &s->voice, error)
                           : status;
}

/* The sound system goes back when the source does not need it. */
static void silence(es_session *s)
{
    es_voice_destroy(s->voice);
    s->voice = NULL;
    if (s->line.sound && !s->line.source.name[0]) {
        s->line.ground.give_back(s->line.ground.who, s->line.sound);
        s->line.sound = NULL;
    }
}

static es_status set_voice(es_session *s, const es_sound_order *order, es_error *error)
{
    es_status status = ES_OK;
    if (order->kind > 0)
        status = have_voice(s, order, error);
    if (order->kind > 0 && status == ES_OK)
        es_voice_set(s->voice, (es_sounder_kind)order->kind, order->level_db);
    if (order->kind == 0)
        silence(s);
    return status;
}

static void answer(es_session *s, const es_sound_order *order)
{
    es_error error = {0};
    es_status status = set_voice(s, order, &error);
    pthread_mutex_lock(&s->life.lock);
    s->facts.sound = s->voice ? order->kind : 0;
    s->facts.sound_level_db = s->voice ? order->level_db : (double)NAN;
    s->facts.sound_sentence[0] = '\0';
    es_text name = es_text_over(s->facts.output, sizeof s->facts.output);
    es_text_add(&name, "%s", s->voice ? es_voice_output(s->voice) : "");
    s->order.answer = error;
    s->order.answer.status = status;
    s->order.answered = 1;
    pthread_cond_broadcast(&s->life.news);
    pthread_mutex_unlock(&s->life.lock);
}

int es_session_obey(es_session *s)
{
    pthread_mutex_lock(&s->life.lock);
    int stopping = s->life.stopping;
    double turns = s->turns;
    s->turns = 0.0;
    es_sound_order order = s->order;
    pthread_mutex_unlock(&s->life.lock);
    if (turns != 0.0 && s->line.source.turn) {
        double stands = s->line.source.turn(s->line.source.self, turns);
        pthread_mutex_lock(&s->life.lock);
        s->facts.trimmer_turns = stands;
        pthread_mutex_unlock(&s->life.lock);
    }
    if (order.asked && !order.answered)
        answer(s, &order);
    return !stopping;
}
