#include "cm.h"

#include "serve/guard.h"

#include <stdio.h>
#include <string.h>

#define PORT 8417

static es_guard guard;

/* A request of our own page, as a browser sends it. */
static es_guard_request own_request(void)
{
    return (es_guard_request){.host = "127.0.0.1:8417",
                              .origin = "http://127.0.0.1:8417",
                              .fetch_site = "same-origin",
                              .key = guard.key,
                              .local = "127.0.0.1",
                              .peer = "192.0.2.7"};
}

static void open_guard(int lan)
{
    assert_int_equal(es_guard_init(&guard, lan, PORT, "benchtop", NULL), ES_OK);
}

static void judges_host(const char *host, es_guard_verdict expected)
{
    es_guard_request r = own_request();
    r.host = host;
    r.origin = NULL;
    if (es_guard_judge(&guard, &r) != expected)
        fail_msg("Host %s is not judged as expected", host ? host : "(none)");
}

static void lets_in_its_own_names_only(void **state)
{
    (void)state;
    open_guard(0);
    judges_host("127.0.0.1:8417", ES_GUARD_PASS);
    judges_host("localhost:8417", ES_GUARD_PASS);
    judges_host("LOCALHOST:8417", ES_GUARD_PASS);
    static const char *const foreign[] = {"evil.example",
                                          "evil.example:8417",
                                          "127.0.0.1",
                                          "127.0.0.1:8418",
                                          "127.0.0.1:84170",
                                          "127.0.0.1:8417.evil.example",
                                          "localhost.evil.example:8417",
                                          "benchtop:8417", /* a network name without lan */
                                          "192.0.2.1:8417",
                                          "",
                                          ":8417",
                                          NULL};
    for (size_t i = 0; i < sizeof foreign / sizeof *foreign; i++)
        judges_host(foreign[i], ES_GUARD_FOREIGN_HOST);
}

static void knows_its_names_in_the_network(void **state)
{
    (void)state;
    open_guard(1);
    judges_host("benchtop:8417", ES_GUARD_PASS);
    judges_host("benchtop.local:8417", ES_GUARD_PASS);
    judges_host("benchtop.evil.example:8417", ES_GUARD_FOREIGN_HOST);
}

static void goes_by_the_address_the_connection_came_to(void **state)
{
    (void)state;
    open_guard(1);
    es_guard_request r = own_request();
    r.local = "192.0.2.1";
    r.host = "192.0.2.1:8417";
    r.origin = "http://192.0.2.1:8417";
    assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_PASS);
    r.host = "192.0.2.99:8417";
    assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_FOREIGN_HOST);
    r.host = ":8417";
    r.local = ""; /* not known: then it names nothing */
    assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_FOREIGN_HOST);
}

static void refuses_pages_from_elsewhere(void **state)
{
    (void)state;
    static const char *const foreign[] = {
        "http://evil.example",  "null", "", "https://127.0.0.1:8417", "http://127.0.0.1:9000",
        "http://localhost:8417" /* ours, but not this one */};
    open_guard(0);
    es_guard_request r = own_request();
    assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_PASS);
    for (size_t i = 0; i < sizeof foreign / sizeof *foreign; i++) {
        r.origin = foreign[i];
        assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_FOREIGN_ORIGIN);
    }
}

/* Without Origin (a plain GET) a browser still says where the request comes from. */
static void a_foreign_page_may_link_but_not_fetch(void **state)
{
    (void)state;
    open_guard(0);
    es_guard_request r = own_request();
    r.origin = NULL;
    r.fetch_site = "cross-site";
    assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_FOREIGN_ORIGIN);
    r.navigation = 1;
    assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_PASS);
    r.fetch_site = NULL; /* no browser at all */
    r.navigation = 0;
    assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_PASS);
}

static void every_key_is_new_and_long(void **state)
{
    (void)state;
    char first[ES_KEY_LENGTH + 1];
    open_guard(1);
    memcpy(first, guard.key, sizeof first);
    open_guard(1);
    assert_int_equal(strlen(first), 32);
    assert_int_equal(strspn(first, "0123456789abcdef"), 32);
    assert_string_not_equal(first, guard.key);
    open_guard(0);
    assert_string_equal(guard.key, "");
}

static void only_the_whole_key_opens(void **state)
{
    (void)state;
    open_guard(1);
    char nearly[ES_KEY_LENGTH + 2];
    es_guard_request r = own_request();
    assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_PASS);
    for (size_t i = 0; i < ES_KEY_LENGTH; i++) {
        memcpy(nearly, guard.key, ES_KEY_LENGTH + 1);
        nearly[i] = nearly[i] == '0' ? '1' : '0';
        assert_false(es_guard_same_key(nearly, guard.key));
    }
    memcpy(nearly, guard.key, ES_KEY_LENGTH + 1);
    nearly[ES_KEY_LENGTH - 1] = '\0';
    assert_false(es_guard_same_key(nearly, guard.key));
    memcpy(nearly, guard.key, ES_KEY_LENGTH);
    memcpy(nearly + ES_KEY_LENGTH, "0", 2);
    assert_false(es_guard_same_key(nearly, guard.key));
    assert_false(es_guard_same_key("", guard.key));
    assert_false(es_guard_same_key(NULL, guard.key));
    r.key = NULL;
    assert_int_equal(es_guard_judge(&guard, &r), ES_GUARD_NO_KEY);
}

static es_guard_verdict show(const char *key, const char *peer, double now_s)
{
    es_guard_request r = own_request();
    r.key = key;
    r.peer = peer;
    r.now_s = now_s;
    return es_guard_judge(&guard, &r);
}

static void guessing_is_stopped_and_hinders_nobody_else(void **state)
{
    (void)state;
    open_guard(1);
    for (int i = 0; i < ES_GUARD_WRONG_MOST; i++)
        assert_int_equal(show("wrong", "192.0.2.7", 100.0), ES_GUARD_WRONG_KEY);
    assert_int_equal(show("wrong", "192.0.2.7", 101.0), ES_GUARD_TOO_MANY);
    assert_int_equal(show(guard.key, "192.0.2.7", 101.0), ES_GUARD_TOO_MANY);
    assert_int_equal(show(guard.key, "192.0.2.8", 101.0), ES_GUARD_PASS);
    assert_int_equal(show(guard.key, "192.0.2.7", 100.0 + ES_GUARD_FORGIVE_S + 1.0), ES_GUARD_PASS);
}

/* At most one guess each ES_GUARD_FORGIVE_S in the long run, whatever the rhythm. */
static void patience_does_not_pay(void **state)
{
    (void)state;
    open_guard(1);
    int looked_at = 0;
    for (double t = 0.0; t < 3600.0; t += 0.5)
        looked_at += show("wrong", "192.0.2.7", t) == ES_GUARD_WRONG_KEY;
    assert_in_range(looked_at, 1, 3600 / (int)ES_GUARD_FORGIVE_S + ES_GUARD_WRONG_MOST);
}

static void a_crowd_of_strangers_does_not_wash_out_a_guesser(void **state)
{
    (void)state;
    open_guard(1);
    char peer[32];
    for (int i = 0; i < ES_GUARD_WRONG_MOST; i++)
        show("wrong", "192.0.2.7", 0.0);
    for (int i = 0; i < 5 * ES_GUARD_STRANGERS; i++) {
        snprintf(peer, sizeof peer, "198.51.100.%d", i);
        assert_int_equal(show("wrong", peer, 0.0), ES_GUARD_WRONG_KEY);
    }
    assert_int_equal(show(guard.key, "192.0.2.7", 0.0), ES_GUARD_TOO_MANY);
}

static void knows_this_computer_s_own_loop(void **state)
{
    (void)state;
    assert_true(es_guard_is_here("127.0.0.1"));
    assert_true(es_guard_is_here("127.9.8.7"));
    assert_true(es_guard_is_here("::1"));
    assert_false(es_guard_is_here("192.0.2.1"));
    assert_false(es_guard_is_here("12.7.0.1"));
    assert_false(es_guard_is_here(""));
    assert_false(es_guard_is_here(NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lets_in_its_own_names_only),
        cmocka_unit_test(knows_its_names_in_the_network),
        cmocka_unit_test(goes_by_the_address_the_connection_came_to),
        cmocka_unit_test(refuses_pages_from_elsewhere),
        cmocka_unit_test(a_foreign_page_may_link_but_not_fetch),
        cmocka_unit_test(every_key_is_new_and_long),
        cmocka_unit_test(only_the_whole_key_opens),
        cmocka_unit_test(guessing_is_stopped_and_hinders_nobody_else),
        cmocka_unit_test(patience_does_not_pay),
        cmocka_unit_test(a_crowd_of_strangers_does_not_wash_out_a_guesser),
        cmocka_unit_test(knows_this_computer_s_own_loop),
    };
    return cmocka_run_group_tests_name("serve/guard", tests, NULL, NULL);
}
