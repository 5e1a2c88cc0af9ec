#include "serve/guard.h"

#include <errno.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/random.h>

/* --- key ----------------------------------------------------------------------------------- */

static int make_key(char key[ES_KEY_LENGTH + 1])
{
    uint8_t bytes[ES_KEY_LENGTH / 2];
    ssize_t got;
    do
        got = getrandom(bytes, sizeof bytes, 0);
    while (got < 0 && errno == EINTR);
    if (got != (ssize_t)sizeof bytes)
        return 0;
    for (size_t i = 0; i < sizeof bytes; i++)
        snprintf(key + 2 * i, 3, "%02x", bytes[i]);
    return 1;
}

int es_guard_same_key(const char *shown, const char *key)
{
    if (!shown || strlen(shown) != ES_KEY_LENGTH)
        return 0;
    unsigned differing = 0;
    for (size_t i = 0; i < ES_KEY_LENGTH; i++)
        differing |= (unsigned)(unsigned char)shown[i] ^ (unsigned)(unsigned char)key[i];
    return differing == 0;
}

es_status es_guard_init(es_guard *guard, int lan, int port, const char *hostname, es_error *error)
{
    *guard = (es_guard){.lan = lan, .port = port};
    snprintf(guard->names[0], sizeof guard->names[0], "localhost");
    if (lan && hostname && hostname[0] && strlen(hostname) < sizeof guard->names[0] - 8) {
        snprintf(guard->names[1], sizeof guard->names[1], "%s", hostname);
        snprintf(guard->names[2], sizeof guard->names[2], "%.70s.local", hostname);
    }
    if (lan && !make_key(guard->key))
        return es_fail(
            error, ES_ERR_IO, "no-key",
            "This computer gave no random numbers for the pairing key; try again, or serve "
            "this computer only.");
    return ES_OK;
}

/* --- where from ---------------------------------------------------------------------------- */

int es_guard_is_here(const char *address)
{
    return address && (strncmp(address, "127.", 4) == 0 || strcmp(address, "::1") == 0);
}

/* Is `authority` this name with the server's port? Port 80 goes without saying in a browser. */
static int is_name(const es_guard *guard, const char *authority, const char *name)
{
    char wanted[128];
    if (!name || !name[0])
        return 0;
    snprintf(wanted, sizeof wanted, "%s:%d", name, guard->port);
    return strcasecmp(authority, wanted) == 0 ||
           (guard->port == 80 && strcasecmp(authority, name) == 0);
}

static int is_own(const es_guard *guard, const char *authority, const char *local)
{
    if (!authority)
        return 0;
    for (size_t i = 0; i < ES_GUARD_NAMES; i++)
        if (is_name(guard, authority, guard->names[i]))
            return 1;
    return is_name(guard, authority, local);
}

static int origin_is_own(const es_guard *guard, const es_guard_request *r)
{
    if (r->origin)
        return strncmp(r->origin, "http://", 7) == 0 && strcasecmp(r->origin + 7, r->host) == 0 &&
               is_own(guard, r->origin + 7, r->local);
    return r->navigation || !r->fetch_site || strcmp(r->fetch_site, "same-origin") == 0 ||
           strcmp(r->fetch_site, "none") == 0;
}

/* --- wrong keys ---------------------------------------------------------------------------- */

static double wrong_now(const es_stranger *s, double now_s)
{
    double left = s->wrong - (now_s - s->seen_s) / ES_GUARD_FORGIVE_S;
    return left > 0.0 ? left : 0.0;
}

static es_stranger *known(es_guard *guard, const char *address)
{
    for (size_t i = 0; i < ES_GUARD_STRANGERS; i++)
        if (strcmp(guard->strangers[i].address, address) == 0)
            return &guard->strangers[i];
    return NULL;
}

/* A place for somebody new: that of whoever has least to be remembered for. */
static es_stranger *place_for(es_guard *guard, const char *address, double now_s)
{
    es_stranger *found = known(guard, address);
    if (found)
        return found;
    found = &guard->strangers[0];
    for (size_t i = 1; i < ES_GUARD_STRANGERS; i++)
        if (wrong_now(&guard->strangers[i], now_s) < wrong_now(found, now_s))
            found = &guard->strangers[i];
    *found = (es_stranger){.seen_s = now_s};
    snprintf(found->address, sizeof found->address, "%s", address);
    return found;
}

static void remember_wrong(es_guard *guard, const char *address, double now_s)
{
    es_stranger *s = place_for(guard, address, now_s);
    s->wrong = wrong_now(s, now_s) + 1.0;
    s->seen_s = now_s;
}

static es_guard_verdict judge_key(es_guard *guard, const es_guard_request *r)
{
    const char *peer = r->peer ? r->peer : "?";
    const es_stranger *s = known(guard, peer);
    if (s && wrong_now(s, r->now_s) > ES_GUARD_WRONG_MOST - 1)
        return ES_GUARD_TOO_MANY;
    if (!r->key)
        return ES_GUARD_NO_KEY;
    if (es_guard_same_key(r->key, guard->key))
        return ES_GUARD_PASS;
    remember_wrong(guard, peer, r->now_s);
    return ES_GUARD_WRONG_KEY;
}

es_guard_verdict es_guard_judge(es_guard *guard, const es_guard_request *request)
{
    if (!is_own(guard, request->host, request->local))
        return ES_GUARD_FOREIGN_HOST;
    if (!origin_is_own(guard, request))
        return ES_GUARD_FOREIGN_ORIGIN;
    return guard->lan ? judge_key(guard, request) : ES_GUARD_PASS;
}
