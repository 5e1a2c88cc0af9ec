#include "cm.h"

#include <time.h>

#include "alloc_probe.h"
#include "live/stage.h"

#define ROOM 64

/* Counts up; ends, or fails, after `most` numbers. */
typedef struct counter {
    int next, most, fails, slow;
} counter;

static void pause_a_little(void)
{
    struct timespec t = {.tv_nsec = 100000};
    nanosleep(&t, NULL);
}

static es_status count_up(void *who, void *block, size_t *count, es_error *error)
{
    counter *c = who;
    int *to = block;
    if (c->slow)
        pause_a_little();
    for (*count = 0; *count < ROOM && c->next < c->most; ++*count)
        to[*count] = c->next++;
    if (*count == 0 && c->fails)
        return es_fail(error, ES_ERR_INPUT, "broken", "It broke after %d.", c->next);
    return ES_OK;
}

static int take_all(es_stage *stage, int slow, es_status *status, es_error *error)
{
    const int *block;
    size_t count;
    int seen = 0;
    while ((block = es_stage_take(stage, &count, status, error))) {
        if (slow)
            pause_a_little();
        for (size_t i = 0; i < count; i++)
            assert_int_equal(block[i], seen++);
    }
    return seen;
}

static void hands_everything_on_in_order_whoever_is_slow(void **state)
{
    (void)state;
    for (int slow = 0; slow < 3; slow++) {
        counter c = {.most = 5000 + slow, .slow = slow == 1};
        es_stage *stage;
        es_status status = ES_OK;
        assert_int_equal(es_stage_create(count_up, &c, ROOM * sizeof(int), &stage, NULL), ES_OK);
        assert_int_equal(take_all(stage, slow == 2, &status, NULL), c.most);
        assert_int_equal(status, ES_OK);
        es_stage_destroy(stage);
    }
}

static es_status pass_on(void *who, void *block, size_t *count, es_error *error)
{
    es_status status = ES_OK;
    const int *from = es_stage_take(who, count, &status, error);
    for (size_t i = 0; i < *count; i++)
        ((int *)block)[i] = from[i];
    return status;
}

static void an_error_reaches_the_end_of_a_chain(void **state)
{
    (void)state;
    counter c = {.most = 1000, .fails = 1};
    es_stage *first, *second;
    es_status status = ES_OK;
    es_error error = {0};
    assert_int_equal(es_stage_create(count_up, &c, ROOM * sizeof(int), &first, NULL), ES_OK);
    assert_int_equal(es_stage_create(pass_on, first, ROOM * sizeof(int), &second, NULL), ES_OK);
    assert_int_equal(take_all(second, 0, &status, &error), 1000); /* all before it is still good */
    assert_int_equal(status, ES_ERR_INPUT);
    assert_string_equal(error.code, "broken");
    assert_string_equal(error.text, "It broke after 1000.");
    es_stage_destroy(second);
    es_stage_destroy(first);
}

static void can_be_stopped_at_any_moment(void **state)
{
    (void)state;
    for (int blocks = 0; blocks < 20; blocks++) {
        counter c = {.most = 1000000};
        es_stage *first, *second;
        size_t count;
        es_status status = ES_OK;
        assert_int_equal(es_stage_create(count_up, &c, ROOM * sizeof(int), &first, NULL), ES_OK);
        assert_int_equal(es_stage_create(pass_on, first, ROOM * sizeof(int), &second, NULL), ES_OK);
        for (int i = 0; i < blocks; i++)
            assert_non_null(es_stage_take(second, &count, &status, NULL));
        es_stage_destroy(second);
        es_stage_destroy(first);
    }
    es_stage_destroy(NULL);
}

static void survives_every_allocation_failure(void **state)
{
    (void)state;
    counter c = {.most = 10};
    es_stage *stage = NULL;
    long n = 0;
    for (;; n++) {
        es_error error = {0};
        alloc_probe_fail_after(n);
        es_status s = es_stage_create(count_up, &c, ROOM * sizeof(int), &stage, &error);
        if (s == ES_OK)
            break;
        assert_int_equal(s, ES_ERR_NOMEM);
        assert_null(stage);
        assert_string_equal(error.code, "no-memory");
        assert_int_equal(alloc_probe_live(), 0);
        assert_true(n < 100);
    }
    assert_int_equal(n, 9);
    es_stage_destroy(stage);
    assert_int_equal(alloc_probe_live(), 0);
    alloc_probe_reset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hands_everything_on_in_order_whoever_is_slow),
        cmocka_unit_test(an_error_reaches_the_end_of_a_chain),
        cmocka_unit_test(can_be_stopped_at_any_moment),
        cmocka_unit_test(survives_every_allocation_failure),
    };
    return cmocka_run_group_tests_name("live/stage", tests, NULL, NULL);
}
