/* SQLite's refusals in words for people. */
#include "store/inside.h"
#include "store/look.h"

#include <errno.h>
#include <string.h>

es_status es_store_damaged(es_error *error)
{
    return es_fail(error, ES_ERR_IO, "damaged-records",
                   "The records file is damaged and was left as it is; put a copy of it or an "
                   "exported document in its place.");
}

static es_status full(es_error *error)
{
    return es_fail(error, ES_ERR_IO, "disk-full",
                   "The disk, or your share of it, is full and nothing was changed; make room and "
                   "try again.");
}

static es_status locked(const es_store *store, es_error *error)
{
    return es_fail(error, ES_ERR_IO, "locked",
                   "Another program is writing to the records and had not finished after %g s; "
                   "wait for it or close it, then try again.",
                   store->patience_ms / 1000.0);
}

/* SQLite calls it full only for ENOSPC, and forgets the reason of a write that failed at commit. */
static es_status disk_failed(const es_store *store, int last, es_error *error)
{
    int reason = sqlite3_system_errno(store->db);
    if (reason == 0)
        reason = last;
    if (reason == ENOSPC || reason == EDQUOT || reason == EFBIG)
        return full(error);
    return es_fail(error, ES_ERR_IO, "disk-failed",
                   "The disk refused to read or write the records (%s); nothing was changed.",
                   reason ? strerror(reason) : "it did not say why");
}

static es_status not_opened(const es_store *store, es_error *error)
{
    int reason = sqlite3_system_errno(store->db);
    return es_fail(error, ES_ERR_IO, "no-permission", "The records can't be opened: %s.",
                   reason ? strerror(reason) : "the system did not say why");
}

es_status es_store_refused(const es_store *store, int code, es_error *error)
{
    int last = errno;
    switch (code & 0xFF) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return locked(store, error);
    case SQLITE_READONLY:
        return es_fail(error, ES_ERR_IO, "read-only",
                       "The records can't be changed: the file, its folder or the disk is "
                       "write-protected.");
    case SQLITE_FULL:
        return full(error);
    case SQLITE_IOERR:
        return disk_failed(store, last, error);
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return not_opened(store, error);
    case SQLITE_CORRUPT:
        return es_store_damaged(error);
    case SQLITE_NOTADB:
        return es_look_foreign(error);
    case SQLITE_NOMEM:
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory.");
    case SQLITE_TOOBIG:
        return es_fail(error, ES_ERR_INPUT, "bad-value", "A text is too large to be kept.");
    case SQLITE_CONSTRAINT:
        return es_fail(error, ES_ERR_INPUT, "contradiction",
                       "The record contradicts others that are kept; nothing was changed.");
    default:
        return es_fail(error, ES_ERR_INTERNAL, "fault", "The records refused a request: %s.",
                       sqlite3_errmsg(store->db));
    }
}
