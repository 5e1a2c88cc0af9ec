#include "cm.h"

#include "evenspool/base/adjust.h"

#include <string.h>

static void names_lead_there_and_back(void **state)
{
    (void)state;
    es_adjust found;
    for (int i = 0; i < ES_ADJUST_COUNT; i++) {
        assert_int_equal(es_adjust_from_name(es_adjust_facts_of((es_adjust)i)->name, &found),
                         ES_OK);
        assert_int_equal(found, i);
    }
    assert_int_equal(es_adjust_from_name("bias", &found), ES_ERR_ARG);
    assert_int_equal(found, ES_ADJUST_SPEED);
    assert_string_equal(es_adjust_facts_of((es_adjust)99)->name, "speed");
}

/* The coach knows one tolerance: every quantity's usual one is 0.001 of it. */
static void every_usual_tolerance_is_the_same_to_the_coach(void **state)
{
    (void)state;
    for (int i = 0; i < ES_ADJUST_COUNT; i++) {
        const es_adjust_facts *f = es_adjust_facts_of((es_adjust)i);
        assert_near(f->tolerance / es_adjust_scale((es_adjust)i), 0.001, 1e-15);
        assert_true(f->tolerance_least < f->tolerance && f->tolerance < f->tolerance_most);
        assert_true(strlen(f->down) <= 6 && strlen(f->up) <= 6);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_lead_there_and_back),
        cmocka_unit_test(every_usual_tolerance_is_the_same_to_the_coach),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
