#include "cm.h"

#include "serve/hands.h"

#include <pthread.h>
#include <stdatomic.h>
#include <unistd.h>

#define ERRANDS 200

typedef struct errand {
    es_errand errand; /* the first: handed back as this */
    int number, held, ran, done;
} errand;

static int order[ERRANDS], ran_count;
static atomic_int idled;

static void run(es_errand *e)
{
    errand *mine = (errand *)e;
    mine->ran = mine->held; /* held before it ran */
    order[ran_count++] = mine->number;
}

static void hold(es_errand *e)
{
    ((errand *)e)->held = 1;
}

static void done(es_errand *e)
{
    ((errand *)e)->done = ((errand *)e)->ran;
}

static void idle(void *who)
{
    atomic_fetch_add((atomic_int *)who, 1);
}

static es_hands *new_hands(double idle_s)
{
    es_hands *hands;
    ran_count = 0;
    atomic_store(&idled, 0);
    assert_int_equal(es_hands_start(idle_s, idle, &idled, &hands, NULL), ES_OK);
    return hands;
}

static void does_all_in_the_order_in_which_they_came(void **state)
{
    (void)state;
    static errand errands[ERRANDS];
    es_hands *hands = new_hands(10.0);
    for (int i = 0; i < ERRANDS; i++) {
        errands[i] = (errand){.errand = {.run = run, .hold = hold, .done = done}, .number = i};
        assert_int_equal(es_hands_take(hands, &errands[i].errand), 1);
    }
    es_hands_wait(hands);
    assert_int_equal(ran_count, ERRANDS);
    for (int i = 0; i < ERRANDS; i++) {
        assert_int_equal(order[i], i);
        assert_true(errands[i].done);
    }
    es_hands_destroy(hands);
}

static void finishes_what_it_took_and_takes_no_more(void **state)
{
    (void)state;
    static errand errands[ERRANDS];
    errand late = {.errand = {.run = run, .hold = hold, .done = done}};
    es_hands *hands = new_hands(10.0);
    for (int i = 0; i < ERRANDS; i++) {
        errands[i] = (errand){.errand = {.run = run, .hold = hold, .done = done}, .number = i};
        es_hands_take(hands, &errands[i].errand);
    }
    es_hands_end(hands);
    assert_int_equal(ran_count, ERRANDS);
    assert_true(errands[ERRANDS - 1].done);
    assert_int_equal(es_hands_take(hands, &late.errand), 0);
    assert_false(late.held);
    es_hands_destroy(hands);
}

static void speaks_up_when_there_is_nothing_to_do(void **state)
{
    (void)state;
    es_hands *hands = new_hands(0.001);
    for (int tries = 0; tries < 2000 && atomic_load(&idled) < 3; tries++)
        usleep(1000);
    assert_true(atomic_load(&idled) >= 3);
    es_hands_destroy(hands);
    es_hands_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(does_all_in_the_order_in_which_they_came),
        cmocka_unit_test(finishes_what_it_took_and_takes_no_more),
        cmocka_unit_test(speaks_up_when_there_is_nothing_to_do),
    };
    return cmocka_run_group_tests_name("serve/hands", tests, NULL, NULL);
}
