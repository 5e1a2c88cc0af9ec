/* The event stream: a listener of the feed as a response without end. */
#include "serve/answer.h"
#include "serve/inside.h"

#include <stdlib.h>
#include <sys/socket.h>

#define STREAM_BLOCK 4096
#define STREAM_TIMEOUT_S                                                                           \
    30u /* a page that takes nothing for so long is let go; beats come oftener */

/* What the system may hold back for a page that is slow [bytes]: a second or two of snapshots. What
 * is more would reach it late; it is better skipped and counted. */
#define SENT_AHEAD_MOST 32768

typedef struct stream {
    es_listener *listener;
    struct MHD_Connection *connection;
} stream;

/* Under the feed's lock, so that no wake-up falls between looking and sleeping. */
static void sleep_until_woken(void *who)
{
    MHD_suspend_connection(((stream *)who)->connection);
}

static void wake(void *who)
{
    MHD_resume_connection(((stream *)who)->connection);
}

static ssize_t read_stream(void *who, uint64_t position, char *out, size_t room)
{
    (void)position;
    stream *s = who;
    size_t count;
    int got = es_feed_read(s->listener, out, room, &count);
    return got < 0 ? MHD_CONTENT_READER_END_OF_STREAM : (ssize_t)count;
}

static void end_stream(void *who)
{
    stream *s = who;
    es_feed_leave(s->listener);
    free(s);
}

static struct MHD_Response *open_stream(es_request *r, es_status *status)
{
    stream *s = calloc(1, sizeof *s);
    *status = ES_ERR_NOMEM;
    if (!s)
        return NULL;
    s->connection = r->connection;
    es_listener_calls calls = {sleep_until_woken, wake};
    *status = es_feed_join(r->serve->feed, ES_STREAMS_MOST, calls, s, &s->listener);
    struct MHD_Response *with = NULL;
    if (*status == ES_OK)
        with = MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, STREAM_BLOCK, read_stream, s,
                                                 end_stream);
    if (!with)
        end_stream(s);
    return with;
}

static void keep_it_fresh(struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    int most = SENT_AHEAD_MOST;
    if (info)
        setsockopt(info->connect_fd, SOL_SOCKET, SO_SNDBUF, &most, sizeof most);
}

enum MHD_Result es_stream_answer(es_request *request)
{
    es_status status;
    struct MHD_Response *with = open_stream(request, &status);
    if (!with && status == ES_ERR_SPACE) {
        es_error error = {0};
        es_fail(&error, ES_ERR_IO, "too-many-pages",
                "%d pages are open already; close some of them.", ES_STREAMS_MOST);
        return es_answer_error(request->connection, MHD_HTTP_SERVICE_UNAVAILABLE, &error);
    }
    if (with) {
        keep_it_fresh(request->connection);
        MHD_set_connection_option(request->connection, MHD_CONNECTION_OPTION_TIMEOUT,
                                  STREAM_TIMEOUT_S);
    }
    return es_answer_with(request->connection, MHD_HTTP_OK, with, "text/event-stream", 1);
}
