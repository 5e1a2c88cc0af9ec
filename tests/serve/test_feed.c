#include "cm.h"

#include "serve/feed.h"

#include <stdio.h>
#include <string.h>

#define ROOM 8192

static int sleeps, wakes;

static void on_sleep(void *who)
{
    (void)who;
    sleeps++;
}

static void on_wake(void *who)
{
    (void)who;
    wakes++;
}

static es_listener *join(es_feed *feed)
{
    es_listener *listener;
    es_listener_calls calls = {on_sleep, on_wake};
    assert_int_equal(es_feed_join(feed, 100, calls, NULL, &listener), ES_OK);
    return listener;
}

static es_feed *new_feed(void)
{
    es_feed *feed;
    sleeps = wakes = 0;
    assert_int_equal(es_feed_create(&feed), ES_OK);
    return feed;
}

/* All that there is to read, in pieces of `piece` bytes. */
static const char *read_all(es_listener *listener, size_t piece)
{
    static char text[64 * ROOM];
    size_t length = 0, count;
    while (es_feed_read(listener, text + length, piece, &count) > 0)
        length += count;
    text[length] = '\0';
    return text;
}

/* The form of an event: HTML standard, section 9.2.6. */
static void an_event_has_the_form_of_the_standard(void **state)
{
    (void)state;
    es_feed *feed = new_feed();
    es_listener *l = join(feed);
    es_feed_publish(feed, ES_FEED_SNAPSHOT, "{\"a\": 1}");
    es_feed_publish(feed, ES_FEED_BEAT, "{}");
    assert_string_equal(read_all(l, ROOM),
                        "event: snapshot\ndata: {\"a\": 1}\n\nevent: beat\ndata: {}\n\n");
    es_feed_leave(l);
    es_feed_destroy(feed);
}

static void small_pieces_give_the_same_text(void **state)
{
    (void)state;
    es_feed *feed = new_feed();
    for (size_t piece = 1; piece < 40; piece++) {
        es_listener *l = join(feed);
        es_feed_publish(feed, ES_FEED_BEAT, "{\"b\": 2}");
        assert_string_equal(read_all(l, piece), "event: beat\ndata: {\"b\": 2}\n\n");
        es_feed_leave(l);
    }
    es_feed_destroy(feed);
}

static void who_comes_late_hears_how_things_stand(void **state)
{
    (void)state;
    es_feed *feed = new_feed();
    es_feed_publish(feed, ES_FEED_FACTS, "1");
    es_feed_publish(feed, ES_FEED_SNAPSHOT, "2");
    es_feed_publish(feed, ES_FEED_FACTS, "3");
    es_feed_publish(feed, ES_FEED_BEAT, "4");
    es_listener *l = join(feed);
    assert_string_equal(read_all(l, ROOM), "event: facts\ndata: 3\n\nevent: snapshot\ndata: 2\n\n");
    es_feed_leave(l);
    es_feed_forget(feed, ES_FEED_SNAPSHOT);
    l = join(feed);
    assert_string_equal(read_all(l, ROOM), "event: facts\ndata: 3\n\n");
    es_feed_leave(l);
    es_feed_destroy(feed);
}

static void the_slow_are_told_how_many_they_missed(void **state)
{
    (void)state;
    es_feed *feed = new_feed();
    es_listener *slow = join(feed), *quick = join(feed);
    char data[32];
    int seen = 0;
    for (int i = 0; i < ES_FEED_EVENTS + 5; i++) {
        snprintf(data, sizeof data, "%d", i);
        es_feed_publish(feed, ES_FEED_BEAT, data);
        for (const char *at = read_all(quick, ROOM); (at = strstr(at, "beat")); at++)
            seen++;
        assert_null(strstr(read_all(quick, ROOM), "lost"));
    }
    assert_int_equal(seen, ES_FEED_EVENTS + 5);
    const char *text = read_all(slow, ROOM);
    const char *first = "event: lost\ndata: {\"events\": 5}\n\nevent: beat\ndata: 5\n\n";
    assert_int_equal(strncmp(text, first, strlen(first)), 0);
    assert_non_null(strstr(text, data)); /* the newest is there */
    es_feed_counts counts = es_feed_counts_now(feed);
    assert_int_equal(counts.lost, 5);
    assert_int_equal(counts.published, ES_FEED_EVENTS + 5);
    es_feed_leave(slow);
    es_feed_leave(quick);
    es_feed_destroy(feed);
}

/* An event that is being handed over must not change under the reader. */
static void a_half_read_event_stays_whole(void **state)
{
    (void)state;
    es_feed *feed = new_feed();
    es_listener *l = join(feed);
    char head[12];
    size_t count;
    es_feed_publish(feed, ES_FEED_BEAT, "the first");
    assert_int_equal(es_feed_read(l, head, 11, &count), 1);
    for (int i = 0; i < 3 * ES_FEED_EVENTS; i++)
        es_feed_publish(feed, ES_FEED_BEAT, "another");
    assert_memory_equal(head, "event: beat", 11);
    const char *rest = "\ndata: the first\n\nevent: lost\n";
    assert_int_equal(strncmp(read_all(l, 7), rest, strlen(rest)), 0);
    es_feed_leave(l);
    es_feed_destroy(feed);
}

static void sleeps_once_and_is_woken_once(void **state)
{
    (void)state;
    es_feed *feed = new_feed();
    es_listener *l = join(feed);
    char out[64];
    size_t count;
    assert_int_equal(es_feed_read(l, out, sizeof out, &count), 0);
    assert_int_equal(sleeps, 1);
    es_feed_publish(feed, ES_FEED_BEAT, "1");
    es_feed_publish(feed, ES_FEED_BEAT, "2");
    assert_int_equal(wakes, 1);
    es_feed_leave(l);
    es_feed_destroy(feed);
}

static void the_end_wakes_everybody(void **state)
{
    (void)state;
    es_feed *feed = new_feed();
    es_listener *l = join(feed);
    char out[64];
    size_t count;
    es_feed_read(l, out, sizeof out, &count);
    es_feed_end(feed);
    assert_int_equal(wakes, 1);
    assert_int_equal(es_feed_read(l, out, sizeof out, &count), -1);
    assert_int_equal(sleeps, 1);
    es_feed_leave(l);
    es_feed_destroy(feed);
}

static void has_room_for_so_many_and_no_more(void **state)
{
    (void)state;
    es_feed *feed = new_feed();
    es_listener *l, *more;
    es_listener_calls calls = {on_sleep, on_wake};
    assert_int_equal(es_feed_join(feed, 1, calls, NULL, &l), ES_OK);
    assert_int_equal(es_feed_join(feed, 1, calls, NULL, &more), ES_ERR_SPACE);
    assert_null(more);
    es_feed_leave(l);
    assert_int_equal(es_feed_join(feed, 1, calls, NULL, &l), ES_OK);
    es_feed_leave(l);
    es_feed_leave(NULL);
    es_feed_destroy(feed);
    es_feed_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_event_has_the_form_of_the_standard),
        cmocka_unit_test(small_pieces_give_the_same_text),
        cmocka_unit_test(who_comes_late_hears_how_things_stand),
        cmocka_unit_test(the_slow_are_told_how_many_they_missed),
        cmocka_unit_test(a_half_read_event_stays_whole),
        cmocka_unit_test(sleeps_once_and_is_woken_once),
        cmocka_unit_test(the_end_wakes_everybody),
        cmocka_unit_test(has_room_for_so_many_and_no_more),
    };
    return cmocka_run_group_tests_name("serve/feed", tests, NULL, NULL);
}
