#include "store/copy.h"

#include "evenspool/base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <unistd.h>

#define NAMES_MOST 1000

void es_copy_settle_folder(const char *path)
{
    char folder[ES_STORE_PATH_ROOM];
    es_text text = es_text_over(folder, sizeof folder);
    const char *slash = strrchr(path, '/');
    es_text_add(&text, "%.*s", slash ? (int)(slash - path) + 1 : 1, slash ? path : ".");
    int opened = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (opened < 0)
        return; /* a folder that can't be read can still be written to */
    fsync(opened);
    close(opened);
}

/* Makes an empty file under the first free name; nobody else's file is taken. */
static es_status take_name(const char *path, int version, char *out, size_t room, es_error *error)
{
    for (int i = 1; i <= NAMES_MOST; i++) {
        es_text text = es_text_over(out, room);
        es_text_add(&text, "%s.version-%d", path, version);
        if (i > 1)
            es_text_add(&text, "-%d", i);
        int file = text.cut ? -1 : open(out, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
        if (file >= 0) {
            close(file);
            return ES_OK;
        }
        if (text.cut || errno != EEXIST)
            break;
    }
    return es_fail(error, ES_ERR_IO, "no-copy",
                   "The records have to be brought up to date, but the copy that is taken first "
                   "can't be made beside them (%s).",
                   strerror(errno));
}

/* Our own handle is in the middle of writing, so the copy is read through another. */
static es_status copy(const es_store *store, const char *path, const char *to, es_error *error)
{
    es_store from = {.patience_ms = store->patience_ms}, copy = from;
    int code = sqlite3_open_v2(path, &from.db, SQLITE_OPEN_READONLY, NULL);
    es_store *failed = &from;
    if (code == SQLITE_OK) {
        failed = &copy;
        code = sqlite3_open_v2(to, &copy.db, SQLITE_OPEN_READWRITE, NULL);
    }
    if (code == SQLITE_OK) {
        sqlite3_backup *backup = sqlite3_backup_init(copy.db, "main", from.db, "main");
        if (backup)
            sqlite3_backup_step(backup, -1);
        code = backup ? sqlite3_backup_finish(backup) : sqlite3_errcode(copy.db);
    }
    es_status status = code == SQLITE_OK ? ES_OK : es_store_refused(failed, code, error);
    sqlite3_close(copy.db);
    sqlite3_close(from.db);
    return status;
}

es_status es_copy_beside(const es_store *store, const char *path, int version, char *out,
                         es_error *error)
{
    es_status status = take_name(path, version, out, ES_STORE_PATH_ROOM, error);
    if (status == ES_OK) {
        status = copy(store, path, out, error);
        if (status != ES_OK)
            unlink(out);
    }
    if (status == ES_OK)
        es_copy_settle_folder(path);
    else
        out[0] = '\0';
    return status;
}
