#include "live/tape_write.h"

#include "evenspool/tape/transport.h"
#include "evenspool/task/programme_sound.h"
#include "paper/cue_sheet.h"
#include "wave/new_file.h"
#include "wave/writer.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BLOCK 4096 /* frames rendered at once */

struct es_tape_file {
    double rate_hz;
    es_programme_sound *sound;
    es_wave_writer *writer;
};

es_tape_settings es_tape_defaults(void)
{
    es_programme_sound_config usual = es_programme_sound_defaults();
    return (es_tape_settings){.rate_hz = usual.rate_hz, .reference_dbfs = usual.reference_dbfs};
}

static es_status open_all(es_tape_file *file, const es_programme *programme,
                          const es_tape_settings *s, es_error *error)
{
    es_programme_sound_config config = {
        .rate_hz = s->rate_hz, .side = s->side, .reference_dbfs = s->reference_dbfs};
    es_wave_writer_settings wave = {
        .rate_hz = (int)s->rate_hz, .channels = 2, .replace = s->replace};
    file->rate_hz = s->rate_hz;
    es_status status = es_programme_sound_create(programme, &config, &file->sound, error);
    return status == ES_OK ? es_wave_writer_open(s->path, &wave, &file->writer, error) : status;
}

es_status es_tape_file_open(const es_programme *programme, const es_tape_settings *settings,
                            es_tape_file **out, es_error *error)
{
    *out = NULL;
    es_tape_file *file = calloc(1, sizeof *file);
    if (!file)
        return es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to write it.");
    es_status status = open_all(file, programme, settings, error);
    if (status == ES_OK)
        *out = file;
    else
        es_tape_file_drop(file);
    return status;
}

es_status es_tape_file_render(es_tape_file *file, void *who,
                              void (*progress)(void *who, double done_s, double share),
                              es_error *error)
{
    float frames[2 * BLOCK];
    int64_t length = es_programme_sound_length(file->sound);
    es_status status = ES_OK;
    for (int64_t done = 0; done < length && status == ES_OK;) {
        size_t count = length - done < BLOCK ? (size_t)(length - done) : BLOCK;
        es_programme_sound_render(file->sound, frames, count);
        status = es_wave_writer_write(file->writer, frames, count, error);
        done += (int64_t)count;
        if (progress)
            progress(who, (double)done / file->rate_hz, (double)done / (double)length);
    }
    return status;
}

es_status es_tape_file_keep(es_tape_file *file, es_error *error)
{
    es_status status = es_wave_writer_keep(file->writer, error);
    file->writer = NULL;
    es_tape_file_drop(file);
    return status;
}

void es_tape_file_drop(es_tape_file *file)
{
    if (!file)
        return;
    es_wave_writer_drop(file->writer);
    es_programme_sound_destroy(file->sound);
    free(file);
}

/* --- cue sheet ------------------------------------------------------------------------------- */

void es_cues_begin(const es_programme *programme, double rate_hz, double reference_dbfs,
                   es_cue_sheet *out)
{
    es_transport_class transport;
    (void)es_transport_from_name(programme->transport, &transport); /* it was judged */
    memset(out, 0, sizeof *out);
    out->programme = *programme;
    out->id = es_programme_id(programme);
    out->speed_m_s = es_geometry_defaults(transport).speed_m_s;
    out->rate_hz = rate_hz;
    out->reference_dbfs = reference_dbfs;
}

void es_cues_add_side(es_cue_sheet *sheet, size_t side, const char *file)
{
    es_cue_side *to = &sheet->sides[sheet->side_count++];
    es_text name = es_text_over(to->file, sizeof to->file);
    es_text_add(&name, "%s", file ? file : "");
    to->side = side;
    to->length_s = es_programme_side_s(&sheet->programme, side);
    for (size_t i = 0; i < sheet->programme.side[side].section_count; i++)
        to->times[i] = es_programme_times(&sheet->programme, side, i);
}

static int ends_in(const char *path, const char *ending)
{
    const char *dot = strrchr(path, '.');
    return dot && strcasecmp(dot, ending) == 0;
}

int es_cues_kind_is_known(const char *path)
{
    return ends_in(path, ".pdf") || ends_in(path, ".txt");
}

/* In memory first: a stream that fails in the middle forgets why. */
es_status es_cues_write(const es_cue_sheet *sheet, const char *path,
                        void (*print)(FILE *out, const es_cue_sheet *sheet), FILE *stream,
                        es_error *error)
{
    char *text = NULL;
    size_t length = 0;
    es_status status = ES_OK;
    FILE *into = open_memstream(&text, &length);
    if (into && ends_in(path, ".pdf"))
        status = es_cue_sheet_draw(sheet, into, error);
    else if (into)
        print(into, sheet);
    if (!into || fclose(into) != 0)
        status =
            es_fail(error, ES_ERR_NOMEM, "no-memory", "There is not enough memory to write it.");
    errno = 0;
    if (status == ES_OK && (fwrite(text, 1, length, stream) != length || fflush(stream) != 0))
        status = es_new_file_refused(errno, error);
    free(text);
    return status;
}
