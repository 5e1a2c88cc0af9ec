#include "task/trim_change.h"
#include "task/trim_inside.h"

#include "evenspool/base/text.h"

#include <math.h>
#include <string.h>

#define USUAL_TURN_S 0.13 /* of a capstan whose sizes are not known                      */
#define SHOWN_TOLERANCES                                                                           \
    0.6 /* a figure is shown when its u95 is below this part of the tolerance ... */
#define SHOWN_ERRORS 0.25 /* ... or of the way to the target                              */
#define AT_WORK_S 5.0     /* the mean reaches no farther back while a turn is asked for   */
#define MEET_S 6.0        /* of steady speed, before the first turn is asked for          */
#define SURE_S 5.0        /* waited for, inside the tolerance but not sure yet           */
#define SURE_SHARE 0.88   /* of the tolerance: nearer to its edge is no use waiting      */
#define ENTER_SHARE 0.96  /* of the tolerance, to come there; all of it, to stay         */
#define HOLDS_MOST 4.0    /* a final reading that takes so many times too long is given up */
#define ODD_MOST 4        /* changes that no hand makes, without an even stretch between  */
#define EVEN_S 2.0
#define KEEP_RATIO 1.3     /* advice is not changed for less                              */
#define FAR_TOLERANCES 3.0 /* from the target: then a trimmer that does no more is at its end */
#define RANGE_PATIENCE 2.5 /* times the patience, after a short turn                      */
#define FLUTTER_DOF 5.0    /* so well the scatter must be known                           */
#define FLUTTER_OVER 0.8   /* of the tolerance: so small it must be to be no longer too large */
#define FLUTTER_S 8.0      /* averaged before flutter is called too large                 */
#define SHOWN_ANYWAY_S 6.0 /* so long an average is shown however unsure it is            */
#define CALM_S 0.5         /* at the beginning, before it is called settling */
#define SWING_EVERY_S 1.0
#define PERIOD_ALIKE 0.03
#define PERIOD_LOW_S 0.06
#define PERIOD_HIGH_S 0.25

/* --- start and breaks ------------------------------------------------------------------- */

static int64_t turn_ticks(double turn_s)
{
    return turn_s >= PERIOD_LOW_S && turn_s <= PERIOD_HIGH_S ? llround(turn_s * ES_TICKS_HZ)
                                                             : llround(USUAL_TURN_S * ES_TICKS_HZ);
}

void es_coach_start(es_trim *t)
{
    es_coach *c = &t->coach;
    double capstan_hz = es_part_rate(&t->config.geometry, ES_PART_CAPSTAN, 0.0);
    es_plateau_start(&c->plateau, &t->curve, turn_ticks(1.0 / capstan_hz));
    c->state = ES_TRIM_LISTENING;
    c->reason = "silence";
    c->error = c->u95 = c->averaged_s = c->asked.factor = c->period_hz = (double)NAN;
    c->final_error = c->final_u95 = (double)NAN;
    c->asked_since = c->there_since = -1;
}

static void ask_for_nothing(es_coach *c)
{
    c->asked.factor = (double)NAN;
    c->asked_since = -1;
    c->unseen = 0;
}

static void show_nothing(es_coach *c)
{
    c->error = c->u95 = c->averaged_s = (double)NAN;
    c->making_sure = c->meeting = 0;
    ask_for_nothing(c);
}

void es_coach_break(es_trim *t, int may_have_moved)
{
    es_coach *c = &t->coach;
    if (may_have_moved && c->plateau.pace == ES_PACE_STEADY) {
        es_mean before = es_plateau_mean(&c->plateau);
        es_move_open(t, &before, es_trim_seconds(t, t->frames), 0);
    }
    es_curve_break(&t->curve);
    es_plateau_break(&c->plateau);
    c->last_open = 0;
    c->there_since = -1;
    if (may_have_moved)
        c->state = ES_TRIM_SETTLING;
    else
        c->state = ES_TRIM_UNSTEADY;
    c->reason = "";
    show_nothing(c);
}

void es_coach_forget_move(es_trim *t)
{
    t->coach.move.open = 0;
}

void es_coach_lose(es_trim *t, const char *reason)
{
    t->coach.state = ES_TRIM_LISTENING;
    t->coach.reason = reason;
    t->coach.there_since = -1;
    show_nothing(&t->coach);
}

/* --- what to do next -------------------------------------------------------------------- */

static double need(const es_trim *t)
{
    return t->config.target - t->coach.error;
}

/* Advice that jumps about can't be followed: it stands until it is plainly wrong. */
static void ask_for_turn(es_trim *t)
{
    es_coach *c = &t->coach;
    es_hand_advice now = es_hand_advise(&c->hand, need(t)), was = c->asked;
    now.factor = es_share_of_turn(now.factor);
    int stands = c->asked_since >= 0 && now.of_first == was.of_first &&
                 now.factor * was.factor > 0.0 &&
                 fabs(log(now.factor / was.factor)) < log(KEEP_RATIO);
    if (!stands)
        c->asked = now;
    if (c->asked_since < 0)
        c->asked_since = t->curve.end;
    double waited_s = es_tick_seconds(t->curve.end - c->asked_since);
    c->unseen = waited_s > t->config.limits.patience_s;
}

/* Not even the longest average would be sure to be inside the tolerance. */
static int flutter_is_too_large(const es_trim *t)
{
    const es_coach *c = &t->coach;
    int64_t longest = es_ticks_of(ES_PLATEAU_MOST_S);
    es_mean m = {.ticks = longest};
    m.u =
        sqrt(es_scatter_variance(&c->plateau.scatter, (double)(longest / c->plateau.turn), &m.dof));
    double bound = c->state == ES_TRIM_LOOK_FIRST ? FLUTTER_OVER : 1.0;
    return m.dof >= FLUTTER_DOF && es_coach_u95(t, &m) > bound * t->config.tolerance;
}

static const char *reason_to_look_first(const es_trim *t)
{
    const es_coach *c = &t->coach;
    const es_trim_limits *l = &t->config.limits;
    double waited_s = c->asked_since < 0 ? 0.0 : es_tick_seconds(t->curve.end - c->asked_since);
    int far = fabs(need(t)) > FAR_TOLERANCES * t->config.tolerance;
    const char *own = t->sense->reason ? t->sense->reason(t) : NULL;
    if (own)
        return own;
    if (fabs(c->plateau.drift_per_s) * 60.0 > l->drift_per_min)
        return "drift";
    if (t->curve.end - c->plateau.start >= es_ticks_of(FLUTTER_S) && flutter_is_too_large(t))
        return "flutter";
    if (far && (c->hand.short_turns >= 2 ||
                (c->hand.short_turns == 1 && waited_s > RANGE_PATIENCE * l->patience_s)))
        return "range";
    if ((int)t->record.session->nudge_count - c->nudges_at_stop >= l->nudges_most)
        return "no-progress";
    return NULL;
}

/* --- there ------------------------------------------------------------------------------ */

static int inside(const es_trim *t, double error, double u95, double share)
{
    return fabs(error - t->config.target) + u95 <= share * t->config.tolerance;
}

static double held_s(const es_coach *c)
{
    return c->there_since < 0 ? 0.0 : es_tick_seconds(c->plateau.curve->end - c->there_since);
}

static void take_final(es_trim *t)
{
    es_coach *c = &t->coach;
    es_mean held = es_plateau_mean_from(&c->plateau, c->there_since);
    double error = es_coach_error(t, held.value), u95 = es_coach_u95(t, &held);
    if (!inside(t, error, u95, 1.0))
        return;
    c->final = 1;
    c->final_error = error;
    c->final_u95 = u95;
    t->record.session->as_left = (es_trim_reading){.time_s = es_trim_seconds(t, t->frames),
                                                   .error_percent = t->scale * error,
                                                   .u95_percent = t->scale * u95,
                                                   .averaged_s = es_tick_seconds(held.ticks)};
}

/* 1: at the target and sure of it. */
static int judge_there(es_trim *t)
{
    es_coach *c = &t->coach;
    if (c->final)
        return 1;
    double share = c->there_since < 0 ? ENTER_SHARE : 1.0;
    if (!inside(t, c->error, c->u95, share)) {
        c->there_since = -1;
        return 0;
    }
    if (c->there_since < 0)
        c->there_since = t->curve.end;
    double held = held_s(c), hold = t->config.hold_s;
    if (held >= hold && held <= HOLDS_MOST * hold)
        take_final(t);
    return c->final || held <= HOLDS_MOST * hold;
}

/* --- states ----------------------------------------------------------------------------- */

static void keep_reading(es_trim *t)
{
    es_coach *c = &t->coach;
    es_trim_session *s = t->record.session;
    es_trim_reading r = {.time_s = es_trim_seconds(t, t->frames),
                         .error_percent = t->scale * c->error,
                         .u95_percent = t->scale * c->u95,
                         .averaged_s = c->averaged_s};
    if (s->nudge_count == 0)
        s->as_found = r;
    if (!c->final)
        s->as_left = r;
}

static void judge_reading(es_trim *t)
{
    es_coach *c = &t->coach;
    c->state = ES_TRIM_READING;
    c->reason = "";
    c->making_sure = c->meeting = 0;
    keep_reading(t);
    const char *reason = c->final ? NULL : reason_to_look_first(t);
    if (reason) {
        c->state = ES_TRIM_LOOK_FIRST;
        c->reason = reason;
        ask_for_nothing(c);
        return;
    }
    if (judge_there(t)) {
        c->state = ES_TRIM_THERE;
        ask_for_nothing(c);
        return;
    }
    c->meeting = !c->met;
    if (c->meeting) {
        c->met = t->curve.end - c->plateau.start >= es_ticks_of(MEET_S);
        return;
    }
    int64_t waited = t->curve.end - c->plateau.moved;
    c->making_sure =
        fabs(need(t)) <= SURE_SHARE * t->config.tolerance && waited < es_ticks_of(SURE_S);
    if (c->making_sure)
        ask_for_nothing(c);
    else
        ask_for_turn(t);
}

/* Once a turn is asked for, a hand may be at work with steps too small to be seen: what was long
 * ago does not count. */
static es_mean mean_now(const es_trim *t)
{
    const es_coach *c = &t->coach;
    int64_t from = c->plateau.start, recent = t->curve.end - es_ticks_of(AT_WORK_S);
    if (c->asked_since >= 0 && recent > from)
        from = recent;
    return es_plateau_mean_from(&c->plateau, from);
}

/* A plateau that can be averaged: a figure, if it is good enough to be shown. */
static void judge_steady(es_trim *t)
{
    es_coach *c = &t->coach;
    es_mean m = mean_now(t);
    double error = es_coach_error(t, m.value), u95 = es_coach_u95(t, &m);
    double bound =
        fmax(SHOWN_TOLERANCES * t->config.tolerance, SHOWN_ERRORS * fabs(t->config.target - error));
    int shown =
        c->state == ES_TRIM_READING || c->state == ES_TRIM_THERE || c->state == ES_TRIM_LOOK_FIRST;
    if (!(u95 <= (shown ? 1.5 * bound : bound)) && m.ticks < es_ticks_of(SHOWN_ANYWAY_S)) {
        c->state = ES_TRIM_SETTLING;
        c->there_since = -1;
        show_nothing(c);
        return;
    }
    if (c->move.open)
        es_move_close(t, &m);
    else if (c->last_open)
        es_move_refine(t, &m);
    c->error = error;
    c->u95 = u95;
    c->averaged_s = es_tick_seconds(m.ticks);
    judge_reading(t);
}

/* The capstan's turn, where its size is not known: the strongest swing, if two
 * looks agree on it. */
static void listen_for_turn(es_coach *c, const es_swings *swings)
{
    double before_hz = c->period_hz;
    c->period_hz = (double)NAN;
    for (int i = 0; i < swings->count && isnan(c->period_hz); i++)
        if (swings->at[i].rate > 1.0 / PERIOD_HIGH_S && swings->at[i].rate < 1.0 / PERIOD_LOW_S)
            c->period_hz = swings->at[i].rate;
    int64_t turn = turn_ticks(1.0 / c->period_hz);
    if (fabs(c->period_hz / before_hz - 1.0) < PERIOD_ALIKE && turn != c->plateau.turn)
        es_plateau_set_turn(&c->plateau, turn);
}

static void look_for_swings(es_trim *t)
{
    es_coach *c = &t->coach;
    if (t->curve.end < c->next_swing || es_change_suspicion(&c->plateau) > ES_SUSPECT)
        return; /* a step that is only beginning to show would be fitted away */
    c->next_swing = t->curve.end + es_ticks_of(SWING_EVERY_S);
    es_plateau_find_swings(&c->plateau, t->points);
    if (!(t->config.geometry.capstan_m > 0.0))
        listen_for_turn(c, &t->curve.swings);
}

static void judge_not_steady(es_trim *t)
{
    es_coach *c = &t->coach;
    const es_plateau *p = &c->plateau;
    int hand = c->move.seen && c->move.open;
    int calm = p->pace == ES_PACE_CALM && (hand || t->curve.end - p->start >= es_ticks_of(CALM_S));
    c->state = calm ? ES_TRIM_SETTLING : hand ? ES_TRIM_TURNING : ES_TRIM_UNSTEADY;
    c->reason = "";
    c->there_since = -1;
    show_nothing(c);
}

void es_coach_look(es_trim *t)
{
    es_coach *c = &t->coach;
    if (c->state == ES_TRIM_LISTENING && c->plateau.pace == ES_PACE_STEADY)
        c->state = ES_TRIM_SETTLING; /* a short dropout is over */
    int changed = es_plateau_look(&c->plateau);
    if (changed) {
        if (c->state == ES_TRIM_LOOK_FIRST)
            c->nudges_at_stop = (int)t->record.session->nudge_count;
        es_move_open(t, &c->plateau.before, es_curve_tick(&t->curve, c->plateau.moved)->time_s, 1);
        c->final = 0;
    }
    es_move_watch(t);
    if (c->odd_changes >= ODD_MOST) { /* no hand does such things so often */
        es_plateau_accept(&c->plateau);
        c->odd_changes = 0;
    }
    if (c->plateau.pace != ES_PACE_STEADY) {
        judge_not_steady(t);
        return;
    }
    if (t->curve.end - c->plateau.start >= es_ticks_of(EVEN_S))
        c->odd_changes = 0;
    look_for_swings(t);
    judge_steady(t);
}

/* --- report ----------------------------------------------------------------------------- */

static int direction(const es_trim *t)
{
    const es_plateau *p = &t->coach.plateau;
    double now = es_curve_mean(&t->curve, t->curve.end - p->turn, t->curve.end);
    double step = now - p->before.value;
    if (!(fabs(step) > 2.0 * sqrt(es_scatter_guess(&p->scatter, 1.0))))
        return 0;
    return step > 0.0 ? 1 : -1;
}

void es_coach_report(const es_trim *t, es_trim_snapshot *out)
{
    const es_coach *c = &t->coach;
    double none = (double)NAN, dof;
    int shown = c->state == ES_TRIM_READING || c->state == ES_TRIM_THERE;
    out->state = c->state;
    out->error_percent = shown ? t->scale * c->error : none;
    out->u95_percent = shown ? t->scale * c->u95 : none;
    out->averaged_s = shown ? c->averaged_s : none;
    out->held_s = c->state == ES_TRIM_THERE ? held_s(c) : 0.0;
    out->final = c->final;
    out->final_percent = c->final ? t->scale * c->final_error : none;
    out->final_u95_percent = c->final ? t->scale * c->final_u95 : none;
    out->move_factor = c->state == ES_TRIM_READING ? c->asked.factor : none;
    out->move_of_first = !isnan(out->move_factor) && c->asked.of_first;
    out->unseen_factor = c->state == ES_TRIM_READING && c->unseen ? 1.0 : none;
    out->turn_s = es_tick_seconds(c->plateau.turn);
    out->scatter_percent = t->scale * sqrt(es_scatter_variance(&c->plateau.scatter, 1.0, &dof));
    out->backlash_percent = t->scale * es_hand_backlash(&c->hand);
    es_text reason = es_text_over(out->reason, sizeof out->reason);
    es_text_add(&reason, "%s", c->reason);
    es_trim_scene scene = {.meeting = c->meeting,
                           .making_sure = c->making_sure,
                           .reversal_asked = c->asked.factor < 0.0,
                           .speeding = c->state == ES_TRIM_TURNING ? direction(t) : 0,
                           .drift_per_min = t->scale * 60.0 * c->plateau.drift_per_s,
                           .hold_s = t->config.hold_s};
    t->sense->report(t, out, &scene);
    es_trim_say(out, &scene);
}
