#include "command/speed_table.h"

#include <math.h>
#include <string.h>
#include <sys/stat.h>

#define HEAD "time_s,speed_error_percent\n"

/* An empty file, or one that begins as ours do. A device is written to, not replaced. */
static int may_replace(const char *path)
{
    struct stat there;
    if (stat(path, &there) != 0 || !S_ISREG(there.st_mode))
        return 1;
    char head[sizeof HEAD] = "";
    FILE *file = fopen(path, "rb");
    if (!file)
        return 0;
    size_t got = fread(head, 1, sizeof head - 1, file);
    fclose(file);
    return got == 0 || strcmp(head, HEAD) == 0;
}

es_status es_speed_table_open(es_speed_table *table, const char *path, es_error *error)
{
    *table = (es_speed_table){0};
    if (!path)
        return ES_OK;
    if (strcmp(path, "-") != 0 && !may_replace(path))
        return es_fail(
            error, ES_ERR_IO, "exists",
            "A file of that name is there already, is not a speed table, and stays as it "
            "is; name another.");
    es_status status = es_text_file_open(path, 1, &table->file, error);
    if (status == ES_OK)
        fputs(HEAD, es_text_file_stream(table->file));
    return status;
}

int es_speed_table_add(void *who, double time_s, double error_percent)
{
    FILE *out = es_text_file_stream(((es_speed_table *)who)->file);
    if (isnan(error_percent))
        return fprintf(out, "%.6f,\n", time_s) > 0;
    return fprintf(out, "%.6f,%.6f\n", time_s, error_percent) > 0;
}

es_status es_speed_table_keep(es_speed_table *table, es_error *error)
{
    es_text_file *file = table->file;
    table->file = NULL;
    return file ? es_text_file_keep(file, error) : ES_OK;
}

void es_speed_table_drop(es_speed_table *table)
{
    es_text_file_drop(table->file);
    table->file = NULL;
}
