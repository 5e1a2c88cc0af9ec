#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <gsl/gsl_multifit.h>

#include <string.h>

#include "alloc_probe.h"
#include "near.h"
#include "random_network.h"
#include "small_network.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

/* --- what a play and an anchor say ---------------------------------------------------------- */

/* Tape made at +0.40 %, played at -0.65 %: 3150 Hz reads 3117.05677 Hz, -1.045817 % (handbook
 * arithmetic, (1 + b) / (1 + a) - 1). */
static void a_play_carries_the_anchor_to_the_other_deck(void **state)
{
    (void)state;
    es_observation o[] = {anchor(0, 0.40, 0.04), play(0, 1, -1.045817, 0.003)};
    es_network *net = solve_still(2, o, 2);
    const es_epoch_result *r = es_network_epochs(net);
    assert_near(r[0].estimate.value, 0.0040, 1e-12);
    assert_near(r[1].estimate.value, -0.0065, 1e-8);
    /* relative uncertainties add in squares: 0.04/1.004 and 0.003/0.98954 percent */
    double u = 0.9935 * hypot(0.0004 / 1.0040, 0.00003 / 0.98954183);
    assert_near(r[1].estimate.u, u, 1e-10);
    assert_near(r[1].estimate.u95, 1.959964 * u, 1e-9);
    assert_true(isinf(r[1].estimate.dof));
    assert_int_equal(es_network_summarise(net)->consistency, ES_UNTESTED);
    assert_true(isnan(es_network_summarise(net)->p));
    assert_true(isnan(es_network_observations(net)[0].normalised));
    es_network_destroy(net);
}

static void played_backwards_the_sign_turns(void **state)
{
    (void)state;
    es_observation o[] = {anchor(0, 0.40, 0.04), play(1, 0, 100.0 * (1.004 / 0.9935 - 1.0), 0.003)};
    es_network *net = solve_still(2, o, 2);
    assert_near(es_network_epochs(net)[1].estimate.value, -0.0065, 1e-12);
    es_network_destroy(net);
}

static void two_anchors_make_a_weighted_mean(void **state)
{
    (void)state;
    es_observation o[] = {anchor(0, 0.1, 0.1), anchor(0, 0.3, 0.2)};
    es_network *net = solve_still(1, o, 2);
    es_estimate e = es_network_epochs(net)[0].estimate;
    /* weights 4 : 1; u = 1 / sqrt(100 + 25) percent; the logarithm bends it by some 1e-6 */
    assert_near(e.value, 0.0014, 2e-6);
    assert_near(e.u, 0.01 / sqrt(125.0), 1e-6);
    const es_network_summary *s = es_network_summarise(net);
    assert_int_equal(s->degrees_of_freedom, 1);
    assert_near(s->chi_square, 0.2 * 0.2 / (0.1 * 0.1 + 0.2 * 0.2), 0.002);
    /* upper tail of chi-square with one degree: erfc(sqrt(x / 2)) */
    assert_near(s->p, erfc(sqrt(s->chi_square / 2.0)), 1e-12);
    assert_int_equal(s->consistency, ES_CONSISTENT);
    es_network_destroy(net);
}

/* JCGM 100:2008 G.4 by hand: u_1 = 3 (5 dof), u_2 = 4 (8 dof), and u_3 = 12 known well. */
static void degrees_of_freedom_come_through_the_chain(void **state)
{
    (void)state;
    es_observation o[] = {with_dof(anchor(0, 0.0, 0.03), 5.0), with_dof(play(0, 1, 0.0, 0.04), 8.0),
                          play(1, 2, 0.0, 0.12)};
    es_network *net = solve_still(3, o, 3);
    const es_epoch_result *r = es_network_epochs(net);
    assert_near(r[0].estimate.dof, 5.0, 1e-9);
    assert_near(r[1].estimate.dof, 625.0 / (81.0 / 5.0 + 256.0 / 8.0), 1e-9);
    assert_near(r[2].estimate.dof, 28561.0 / (81.0 / 5.0 + 256.0 / 8.0), 1e-6);
    assert_near(r[1].estimate.k, 2.1788, 1e-4); /* t95 of 12 degrees of freedom, table G.2: 2.18 */
    assert_near(r[2].estimate.u95, r[2].estimate.k * 0.0013, 1e-12);
    es_network_destroy(net);
}

/* --- a levelling network -------------------------------------------------------------------- */

/* Worked a second time by GSL, dense. */
typedef struct dense {
    gsl_vector *x;
    gsl_matrix *covariance;
    double chi_square;
} dense;

static dense solve_dense(const es_observation *o, size_t count, size_t decks)
{
    dense d = {gsl_vector_alloc(decks), gsl_matrix_alloc(decks, decks), 0.0};
    gsl_matrix *a = gsl_matrix_calloc(count, decks);
    gsl_vector *y = gsl_vector_alloc(count), *w = gsl_vector_alloc(count);
    for (size_t i = 0; i < count; i++) {
        double u = o[i].u / (1.0 + o[i].value);
        gsl_matrix_set(a, i, o[i].deck, 1.0);
        if (o[i].kind == ES_PLAY)
            gsl_matrix_set(a, i, o[i].recorded_on, -1.0);
        gsl_vector_set(y, i, log1p(o[i].value));
        gsl_vector_set(w, i, 1.0 / (u * u));
    }
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(count, decks);
    gsl_multifit_wlinear(a, w, y, d.x, d.covariance, &d.chi_square, work);
    gsl_multifit_linear_free(work);
    gsl_matrix_free(a);
    gsl_vector_free(y);
    gsl_vector_free(w);
    return d;
}

static double covariance_of(const dense *d, size_t a, size_t b)
{
    return gsl_matrix_get(d->covariance, a, b);
}

static void a_levelling_network_agrees_with_a_dense_solution(void **state)
{
    (void)state;
    size_t count, decks = 6;
    const es_observation *o = levelling(&count);
    es_network *net = solve_still(decks, o, count);
    dense d = solve_dense(o, count, decks);
    for (size_t i = 0; i < decks; i++) {
        es_estimate e = es_network_epochs(net)[i].estimate;
        double x = gsl_vector_get(d.x, i);
        assert_near(e.value, expm1(x), 1e-13);
        assert_near(e.u, exp(x) * sqrt(covariance_of(&d, i, i)), 1e-14);
        for (size_t k = 0; k < decks; k++) {
            double r;
            es_estimate diff;
            assert_int_equal(es_network_correlation(net, i, k, &r), ES_OK);
            assert_near(r,
                        covariance_of(&d, i, k) /
                            sqrt(covariance_of(&d, i, i) * covariance_of(&d, k, k)),
                        1e-10);
            assert_int_equal(es_network_difference(net, i, k, &diff), ES_OK);
            double h = gsl_vector_get(d.x, k) - x;
            double v =
                covariance_of(&d, i, i) + covariance_of(&d, k, k) - 2 * covariance_of(&d, i, k);
            assert_near(diff.value, expm1(h), 1e-13);
            assert_near(diff.u, exp(h) * sqrt(fabs(v)), 1e-10);
        }
    }
    assert_near(es_network_summarise(net)->chi_square, d.chi_square, 1e-9 * d.chi_square);
    assert_int_equal(es_network_summarise(net)->degrees_of_freedom, count - decks);
    gsl_vector_free(d.x);
    gsl_matrix_free(d.covariance);
    es_network_destroy(net);
}

/* The redundancies of all observations add up to the degrees of freedom (Baarda 1968, from memory);
 * a residual is what the gross error leaves of itself: residual = redundancy * gross error. */
static void redundancies_add_up_to_the_degrees_of_freedom(void **state)
{
    (void)state;
    size_t count;
    const es_observation *o = levelling(&count);
    es_network *net = solve_still(6, o, count);
    const es_observation_result *r = es_network_observations(net);
    double sum = 0.0;
    for (size_t i = 0; i < count; i++) {
        sum += r[i].redundancy;
        assert_near(r[i].residual, r[i].redundancy * r[i].gross_error, 1e-15);
    }
    assert_near(sum, 6.0, 1e-9);
    es_network_destroy(net);
}

/* Leaving one observation out, the others say what it should have read: the difference is its
 * gross error, and over its uncertainty its normalised residual. */
static void a_gross_error_is_what_the_others_deny(void **state)
{
    (void)state;
    size_t count;
    const es_observation *o = levelling(&count);
    es_observation left[12];
    for (size_t out = 0; out < count; out++) {
        size_t kept = 0;
        for (size_t i = 0; i < count; i++)
            if (i != out)
                left[kept++] = o[i];
        es_network *all = solve_still(6, o, count);
        dense d = solve_dense(left, kept, 6);
        const es_observation_result *r = &es_network_observations(all)[out];
        double said = gsl_vector_get(d.x, o[out].deck),
               v = covariance_of(&d, o[out].deck, o[out].deck);
        if (o[out].kind == ES_PLAY) {
            size_t a = o[out].recorded_on;
            said -= gsl_vector_get(d.x, a);
            v += covariance_of(&d, a, a) - 2.0 * covariance_of(&d, a, o[out].deck);
        }
        double u = o[out].u / (1.0 + o[out].value), off = log1p(o[out].value) - said;
        assert_near(r->gross_error, off, 1e-12);
        assert_near(r->normalised, off / sqrt(u * u + v), 1e-7);
        gsl_vector_free(d.x);
        gsl_matrix_free(d.covariance);
        es_network_destroy(all);
    }
}

static void shares_add_up_to_one(void **state)
{
    (void)state;
    size_t count;
    const es_observation *o = levelling(&count);
    es_network *net = solve_still(6, o, count);
    double share[12], walk;
    for (size_t deck = 0; deck < 6; deck++) {
        double sum = 0.0;
        assert_int_equal(es_network_shares(net, deck, share, &walk), ES_OK);
        for (size_t i = 0; i < count; i++) {
            assert_true(share[i] >= 0.0);
            sum += share[i];
        }
        assert_near(sum, 1.0, 1e-10);
        assert_near(walk, 0.0, 0.0);
    }
    /* deck 0 hangs on its own anchor above all; twice its uncertainty has nearly four times the
       weight of the rest, by hand: other side 0.10 + about 0.01 percent */
    es_network_shares(net, 0, share, &walk);
    assert_true(share[0] > 0.7 && share[1] > 0.1);
    es_network_destroy(net);
}

/* JCGM 100:2008 H.5: ten days' means of five readings; F = 2.25 printed, and chi-square over its
 * degrees of freedom is that F when the within-day spread is taken as known. */
static void days_that_differ_too_much_are_noticed(void **state)
{
    (void)state;
    static const double day[] = {172, 116, 13, 144, 106, 31, 60, 125, 163, 41}; /* [uV] of 10 V */
    es_observation o[10];
    for (size_t i = 0; i < 10; i++) /* [uV] as ppm of one, so that the logarithm does not matter */
        o[i] = with_dof(anchor(0, day[i] * 1e-4, 84.9 / sqrt(5.0) * 1e-4), 40.0);
    es_network *net = solve_still(1, o, 10);
    const es_network_summary *s = es_network_summarise(net);
    assert_int_equal(s->degrees_of_freedom, 9);
    assert_near(s->chi_square / 9.0, 2.25, 0.02);
    assert_near(es_network_epochs(net)[0].estimate.value, 97.1e-6, 0.1e-6);
    assert_int_equal(s->consistency, ES_CONTRADICTORY);
    es_network_destroy(net);
}

/* --- what can't be known -------------------------------------------------------------------- */

static void what_no_anchor_reaches_is_unknown_but_differences_stand(void **state)
{
    (void)state;
    es_observation o[] = {anchor(0, 0.1, 0.04), play(0, 1, 0.2, 0.01), play(2, 3, -0.3, 0.01),
                          play(3, 2, 0.32, 0.02)};
    es_network *net = solve_still(5, o, COUNT(o));
    const es_epoch_result *r = es_network_epochs(net);
    assert_true(r[0].tied && r[1].tied && !r[2].tied && !r[3].tied && !r[4].tied);
    assert_true(isnan(r[2].estimate.value) && isnan(r[2].estimate.u) && isnan(r[4].estimate.u95));
    assert_int_equal(r[2].group, r[3].group);
    assert_true(r[4].group != r[3].group && r[0].group != r[2].group);
    assert_int_equal(es_network_summarise(net)->groups, 3);
    assert_int_equal(es_network_summarise(net)->untied_epochs, 3);
    assert_int_equal(es_network_summarise(net)->degrees_of_freedom, 1);

    es_estimate e;
    double c, share[4], walk;
    assert_int_equal(es_network_difference(net, 2, 3, &e), ES_OK);
    double w = pow(0.997 / 0.0001, 2.0), v = pow(1.0032 / 0.0002, 2.0); /* of the logarithms */
    assert_near(log1p(e.value), (w * log(0.997) - v * log(1.0032)) / (w + v), 1e-13);
    assert_near(e.u, (1.0 + e.value) / sqrt(w + v), 1e-13);
    assert_int_equal(es_network_difference(net, 0, 2, &e), ES_OK);
    assert_true(isnan(e.value) && isnan(e.u95));
    assert_int_equal(es_network_correlation(net, 0, 2, &c), ES_OK);
    assert_true(isnan(c));
    assert_int_equal(es_network_shares(net, 3, share, &walk), ES_OK);
    assert_true(isnan(share[0]) && isnan(walk));
    assert_int_equal(es_network_at(net, 3, 5.0, &e), ES_OK);
    assert_true(isnan(e.value));
    es_network_destroy(net);
}

static void a_deck_alone_is_unknown(void **state)
{
    (void)state;
    es_network *net = solve_still(1, NULL, 0);
    assert_false(es_network_epochs(net)[0].tied);
    assert_true(isnan(es_network_epochs(net)[0].estimate.value));
    assert_int_equal(es_network_summarise(net)->consistency, ES_UNTESTED);
    assert_true(es_network_summarise(net)->worst == ES_NONE);
    es_network_destroy(net);
}

/* --- the same deck -------------------------------------------------------------------------- */

static void a_play_on_its_own_deck_checks_drift_and_no_speed(void **state)
{
    (void)state;
    es_observation o[] = {anchor(0, 0.1, 0.04), play(0, 0, 0.06, 0.02), play(1, 1, 0.01, 0.02)};
    es_network *net = solve_still(2, o, COUNT(o));
    const es_observation_result *r = es_network_observations(net);
    assert_int_equal(r[1].role, ES_ROLE_DRIFT_CHECK);
    assert_near(r[1].normalised, 3.0, 0.01);
    assert_near(r[2].normalised, 0.5, 0.01);
    assert_near(r[1].weight, 0.0, 0.0);
    assert_false(es_network_epochs(net)[1].tied);
    assert_near(es_network_epochs(net)[0].estimate.value, 0.001, 1e-12);
    assert_near(es_network_epochs(net)[0].estimate.u, 0.0004, 1e-12);
    assert_int_equal(es_network_summarise(net)->degrees_of_freedom, 0);
    assert_non_null(strstr(es_same_deck_sentence(), "error cancels"));
    es_network_destroy(net);
}

/* --- drift ---------------------------------------------------------------------------------- */

/* 0.3 % per root year: after four years 0.6 %, on top of the anchor's 0.08 %. */
static void an_anchor_grows_old(void **state)
{
    (void)state;
    es_epoch deck = {.walk = 0.003, .asked_day = 1461.0};
    es_observation o = on_days(anchor(0, 0.0, 0.08), 0.0, 0.0);
    es_network *net = solve_with(&deck, 1, &o, 1, ES_ROBUST_NONE);
    assert_near(es_network_epochs(net)[0].estimate.u, hypot(0.006, 0.0008), 1e-9);
    es_estimate e;
    double share, walk;
    assert_int_equal(es_network_at(net, 0, 0.0, &e), ES_OK);
    assert_near(e.u, 0.0008, 1e-12);
    assert_int_equal(es_network_at(net, 0, 0.7, &e), ES_OK); /* still the same day */
    assert_near(e.u, 0.0008, 1e-12);
    assert_int_equal(es_network_at(net, 0, -365.25 / 4.0 - 0.2, &e), ES_OK); /* day -92 */
    assert_near(e.u, hypot(0.0008, 0.003 * sqrt(92.0 / 365.25)), 1e-9);
    assert_int_equal(es_network_at(net, 0, 4.0 * 1461.0, &e), ES_OK); /* beyond the last node */
    assert_near(e.u, hypot(0.012, 0.0008), 1e-9);
    assert_int_equal(es_network_shares(net, 0, &share, &walk), ES_OK);
    assert_near(walk, 0.36 / (0.36 + 0.0064), 1e-9);
    assert_near(share, 0.0064 / (0.36 + 0.0064), 1e-9);
    es_network_destroy(net);
}

/* Between two good anchors a random walk is a bridge: its variance is w^2 t (T - t) / T, and the
 * middle lies between the ends (textbook result on Brownian motion). */
static void between_two_anchors_the_walk_is_bridged(void **state)
{
    (void)state;
    es_epoch deck = {.walk = 0.01, .asked_day = 100.0};
    es_observation o[] = {on_days(anchor(0, 0.1, 0.00001), 0.0, 0.0),
                          on_days(anchor(0, 0.5, 0.00001), 0.0, 400.0)};
    es_network *net = solve_with(&deck, 1, o, 2, ES_ROBUST_NONE);
    es_estimate asked = es_network_epochs(net)[0].estimate, at;
    /* of the logarithm, hence the factor */
    double u = 0.01 * sqrt(100.0 * 300.0 / 400.0 / 365.25) * (1.0 + asked.value);
    assert_near(log1p(asked.value), 0.75 * log(1.001) + 0.25 * log(1.005), 1e-8);
    assert_near(asked.u, u, 1e-5 * u);
    /* on a day without a node the same by interpolation: day 200 by hand */
    assert_int_equal(es_network_at(net, 0, 200.0, &at), ES_OK);
    assert_near(log1p(at.value), 0.5 * (log(1.001) + log(1.005)), 1e-8);
    assert_near(at.u, 0.01 * sqrt(100.0 / 365.25) * (1.0 + at.value), 1e-7);
    /* and asking there from the start gives the very same */
    es_epoch other = {.walk = 0.01, .asked_day = 200.0};
    es_network *again = solve_with(&other, 1, o, 2, ES_ROBUST_NONE);
    assert_near(es_network_epochs(again)[0].estimate.u, at.u, 1e-13);
    assert_near(es_network_epochs(again)[0].estimate.value, at.value, 1e-13);
    es_network_destroy(again);
    es_network_destroy(net);
}

/* A tape recorded on the day of the anchor keeps the deck's speed of that day. */
static void an_old_tape_of_its_own_carries_a_drifting_deck_over_the_years(void **state)
{
    (void)state;
    es_epoch deck = {.walk = 0.003, .asked_day = 1461.0};
    es_observation o[] = {on_days(anchor(0, 0.0, 0.08), 0.0, 0.0),
                          on_days(play(0, 0, 0.25, 0.02), 0.0, 1461.0)};
    es_network *net = solve_with(&deck, 1, o, 2, ES_ROBUST_NONE);
    assert_int_equal(es_network_observations(net)[1].role, ES_ROLE_USED);
    es_estimate e = es_network_epochs(net)[0].estimate;
    /* the walk's 0.6 % against the tape's 0.02 %: a weighted mean */
    double w = 1.0 / (0.02 * 0.02), v = 1.0 / (0.6 * 0.6);
    assert_near(e.value, 0.0025 * w / (w + v), 1e-7);
    assert_near(e.u, hypot(0.0008, 0.01 / sqrt(w + v)), 3e-6);
    es_network_destroy(net);
}

/* --- refusals ------------------------------------------------------------------------------- */

static void refuses(const es_epoch *e, size_t decks, es_observation o, const char *code)
{
    es_network *net = (es_network *)&net;
    es_error error = {0};
    assert_int_equal(es_network_create(e, decks, &o, 1, &net, &error), ES_ERR_ARG);
    assert_null(net);
    assert_string_equal(error.code, code);
    assert_true(error.text[0] != '\0' && error.text[strlen(error.text) - 1] == '.');
    assert_int_equal(es_network_create(e, decks, &o, 1, &net, NULL), ES_ERR_ARG);
}

static void refuses_what_can_not_be(void **state)
{
    (void)state;
    es_epoch still[2] = {{0}}, restless = {.walk = -0.1}, timeless = {.asked_day = (double)NAN};
    es_observation good = anchor(0, 0.1, 0.1), o;
    refuses(still, 0, good, "no-decks");
    refuses(&restless, 1, good, "bad-walk");
    refuses(&timeless, 1, good, "bad-day");
    refuses(still, 2, anchor(2, 0.1, 0.1), "unknown-deck");
    refuses(still, 2, play(7, 1, 0.1, 0.1), "unknown-deck");
    refuses(still, 2, anchor(0, 0.1, 0.0), "bad-uncertainty");
    refuses(still, 2, anchor(0, 0.1, -0.1), "bad-uncertainty");
    refuses(still, 2, play(0, 1, 0.1, (double)NAN), "bad-uncertainty");
    refuses(still, 2, anchor(0, -100.0, 0.1), "bad-value");
    refuses(still, 2, play(0, 1, (double)NAN, 0.1), "bad-value");
    refuses(still, 2, with_dof(good, 0.0), "bad-dof");
    refuses(still, 2, on_days(play(0, 1, 0.1, 0.1), (double)INFINITY, 0.0), "bad-day");
    o = good;
    o.kind = (es_observation_kind)7;
    refuses(still, 2, o, "bad-kind");
    es_network_destroy(NULL);
}

/* Sixteen digits can't hold a play known to a millionth of a percent beside a guess of 100 %. */
static void uncertainties_too_unlike_are_refused(void **state)
{
    (void)state;
    es_epoch still[2] = {{0}};
    es_observation o[] = {anchor(0, 0.0, 100.0), play(0, 1, 0.0, 1e-6), play(1, 0, 0.0, 1e-6)};
    es_network *net;
    es_solve_options options = es_solve_defaults();
    assert_int_equal(es_network_create(still, 2, o, 3, &net, NULL), ES_OK);
    assert_int_equal(es_network_solve(net, &options), ES_ERR_INPUT);
    assert_true(isnan(es_network_epochs(net)[0].estimate.value));
    assert_true(isnan(es_network_summarise(net)->chi_square));
    es_network_destroy(net);
}

static void questions_before_solving_or_out_of_range_are_refused(void **state)
{
    (void)state;
    es_epoch still = {0};
    es_observation o = anchor(0, 0.1, 0.1);
    es_network *net;
    es_estimate e;
    double number, walk;
    es_solve_options options = es_solve_defaults();
    assert_int_equal(es_network_create(&still, 1, &o, 1, &net, NULL), ES_OK);
    assert_int_equal(es_network_at(net, 0, 0.0, &e), ES_ERR_ARG);
    assert_int_equal(es_network_difference(net, 0, 0, &e), ES_ERR_ARG);
    assert_int_equal(es_network_correlation(net, 0, 0, &number), ES_ERR_ARG);
    assert_int_equal(es_network_shares(net, 0, &number, &walk), ES_ERR_ARG);
    options.level = 1.0;
    assert_int_equal(es_network_solve(net, &options), ES_ERR_ARG);
    assert_true(isnan(es_network_epochs(net)[0].estimate.value));
    options = es_solve_defaults();
    assert_int_equal(es_network_solve(net, &options), ES_OK);
    assert_int_equal(es_network_at(net, 1, 0.0, &e), ES_ERR_ARG);
    assert_int_equal(es_network_at(net, 0, (double)NAN, &e), ES_ERR_ARG);
    assert_int_equal(es_network_difference(net, 0, 1, &e), ES_ERR_ARG);
    assert_true(isnan(e.value));
    assert_int_equal(es_network_difference(net, 0, 0, &e), ES_OK);
    assert_near(e.value, 0.0, 0.0);
    assert_near(e.u95, 0.0, 0.0);
    es_network_destroy(net);
}

/* --- memory and repeatability --------------------------------------------------------------- */

static void make_busy(random_network *n)
{
    random_plan plan = {.decks_least = 8,
                        .decks_most = 12,
                        .plays_per_deck = 5,
                        .anchors_least = 2,
                        .anchors_most = 4,
                        .least_dof = 5,
                        .walk = 0.003};
    random_network_make(n, &plan, 4);
}

static void solving_never_allocates_and_repeats_bit_for_bit(void **state)
{
    (void)state;
    static random_network n;
    make_busy(&n);
    es_network *net;
    es_estimate first[RANDOM_DECKS_MOST], e;
    double share[RANDOM_OBSERVATIONS_MOST], number;
    assert_int_equal(es_network_create(n.epoch, n.decks, n.observation, n.observations, &net, NULL),
                     ES_OK);
    es_solve_options options = es_solve_defaults();
    alloc_probe_reset();
    for (int way = ES_ROBUST_SOFTEN; way >= ES_ROBUST_NONE; way--) {
        options.robust = (es_robust)way;
        assert_int_equal(es_network_solve(net, &options), ES_OK);
    }
    for (size_t i = 0; i < n.decks; i++)
        first[i] = es_network_epochs(net)[i].estimate;
    es_network_at(net, 0, 10.0, &e);
    es_network_difference(net, 0, 1, &e);
    es_network_correlation(net, 0, 1, &number);
    es_network_shares(net, 1, share, &number);
    assert_int_equal(es_network_solve(net, &options), ES_OK);
    assert_int_equal(alloc_probe_calls(), 0);
    for (size_t i = 0; i < n.decks; i++)
        assert_memory_equal(&first[i], &es_network_epochs(net)[i].estimate, sizeof e);
    es_network_destroy(net);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    static random_network n;
    make_busy(&n);
    es_network *net = NULL;
    long allowed = 0;
    for (;; allowed++) {
        alloc_probe_fail_after(allowed);
        es_error error = {0};
        es_status s =
            es_network_create(n.epoch, n.decks, n.observation, n.observations, &net, &error);
        if (s == ES_OK)
            break;
        assert_int_equal(s, ES_ERR_NOMEM);
        assert_null(net);
        assert_string_equal(error.code, "no-memory");
        assert_int_equal(alloc_probe_live(), 0);
        assert_true(allowed < 300);
    }
    assert_true(allowed > 40);
    es_network_destroy(net);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_play_carries_the_anchor_to_the_other_deck),
        cmocka_unit_test(played_backwards_the_sign_turns),
        cmocka_unit_test(two_anchors_make_a_weighted_mean),
        cmocka_unit_test(degrees_of_freedom_come_through_the_chain),
        cmocka_unit_test(a_levelling_network_agrees_with_a_dense_solution),
        cmocka_unit_test(redundancies_add_up_to_the_degrees_of_freedom),
        cmocka_unit_test(a_gross_error_is_what_the_others_deny),
        cmocka_unit_test(shares_add_up_to_one),
        cmocka_unit_test(days_that_differ_too_much_are_noticed),
        cmocka_unit_test(what_no_anchor_reaches_is_unknown_but_differences_stand),
        cmocka_unit_test(a_deck_alone_is_unknown),
        cmocka_unit_test(a_play_on_its_own_deck_checks_drift_and_no_speed),
        cmocka_unit_test(an_anchor_grows_old),
        cmocka_unit_test(between_two_anchors_the_walk_is_bridged),
        cmocka_unit_test(an_old_tape_of_its_own_carries_a_drifting_deck_over_the_years),
        cmocka_unit_test(refuses_what_can_not_be),
        cmocka_unit_test(uncertainties_too_unlike_are_refused),
        cmocka_unit_test(questions_before_solving_or_out_of_range_are_refused),
        cmocka_unit_test(solving_never_allocates_and_repeats_bit_for_bit),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("trust/network", tests, NULL, NULL);
}
