#include "store/look.h"

#include "evenspool/base/text.h"
#include "store/inside.h"
#include "store/schema.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define HEADER_BYTES 100
#define FORMAT_AT 18 /* one byte to write by, one to read by: 1 or 2 */
#define VERSION_AT 60
#define MARK_AT 68

es_status es_look_foreign(es_error *error)
{
    return es_fail(error, ES_ERR_IO, "not-records",
                   "This is not a records file of Evenspool; it was left as it is.");
}

es_status es_look_newer(es_error *error)
{
    return es_fail(error, ES_ERR_IO, "newer-records",
                   "These records were written by a newer version of Evenspool; use that version. "
                   "They were left as they are.");
}

static uint32_t big_endian(const unsigned char *at)
{
    return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | (uint32_t)at[3];
}

/* A mark of 0 is left to a closer look: a database without tables is as good as none. */
static es_status judge(const unsigned char *header, ssize_t bytes, es_error *error)
{
    static const char magic[16] = "SQLite format 3";
    if (bytes < HEADER_BYTES || memcmp(header, magic, sizeof magic) != 0)
        return es_look_foreign(error);
    uint32_t mark = big_endian(header + MARK_AT), version = big_endian(header + VERSION_AT);
    if (mark != 0 && mark != ES_STORE_MARK)
        return es_look_foreign(error);
    if (mark == ES_STORE_MARK && version > (uint32_t)es_schema_version)
        return es_look_newer(error);
    for (int i = FORMAT_AT; i < FORMAT_AT + 2; i++)
        if (header[i] < 1 || header[i] > 2)
            return es_store_damaged(error);
    return ES_OK;
}

static es_status not_reached(int reason, es_look *out, es_error *error)
{
    if (reason == ENOENT) {
        out->missing = 1;
        return ES_OK;
    }
    if (reason == ENOTDIR)
        return es_fail(error, ES_ERR_IO, "no-folder",
                       "A part of the records' path is not a folder.");
    return es_fail(error, ES_ERR_IO, "no-permission", "The records can't be opened: %s.",
                   strerror(reason));
}

static es_status read_header(const char *path, es_error *error)
{
    unsigned char header[HEADER_BYTES];
    int file = open(path, O_RDONLY | O_CLOEXEC);
    if (file < 0)
        return es_fail(error, ES_ERR_IO, "no-permission", "The records can't be opened: %s.",
                       strerror(errno));
    ssize_t bytes = read(file, header, sizeof header);
    int reason = errno;
    close(file);
    if (bytes < 0)
        return es_fail(error, ES_ERR_IO, "disk-failed",
                       "The disk refused to read the records (%s).", strerror(reason));
    return judge(header, bytes, error);
}

static int folder_is_writable(const char *path)
{
    char folder[ES_STORE_PATH_ROOM];
    es_text text = es_text_over(folder, sizeof folder);
    const char *slash = strrchr(path, '/');
    int length = slash ? (int)(slash - path) : 0;
    es_text_add(&text, "%.*s", slash ? length + 1 : 1, slash ? path : ".");
    return !text.cut && access(folder, W_OK) == 0;
}

static void look_for_log(const char *path, es_look *out)
{
    char log[ES_STORE_PATH_ROOM];
    es_text text = es_text_over(log, sizeof log);
    es_text_add(&text, "%s-wal", path);
    struct stat about;
    out->open = !text.cut && stat(log, &about) == 0;
    out->log = out->open && about.st_size > 0;
}

es_status es_look_at(const char *path, es_look *out, es_error *error)
{
    *out = (es_look){0};
    struct stat about;
    if (stat(path, &about) != 0)
        return not_reached(errno, out, error);
    if (!S_ISREG(about.st_mode))
        return es_fail(error, ES_ERR_IO, "not-a-file", "The records' path names %s, not a file.",
                       S_ISDIR(about.st_mode) ? "a folder" : "a device");
    out->empty = about.st_size == 0;
    look_for_log(path, out);
    out->writable = access(path, W_OK) == 0 && folder_is_writable(path);
    return out->empty ? ES_OK : read_header(path, error);
}
