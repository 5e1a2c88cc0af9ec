/*
 * Tape, written to a file: one side of a programme as audio, and the cue sheet that belongs to it.
 *
 *   out     24 bit stereo, the kind by the name's ending (wave/writer.h); whole or not at all
 *   same    the same settings give the same bytes
 *   memory  bounded, whatever the length
 */
#ifndef ES_LIVE_TAPE_WRITE_H
#define ES_LIVE_TAPE_WRITE_H

#include "evenspool/base/cue_sheet.h"
#include "evenspool/base/error.h"

#include <stdio.h>

typedef struct es_tape_settings {
    size_t side;           /* 0 ..                                                     */
    double rate_hz;        /* task/programme_sound.h                                   */
    double reference_dbfs; /* peak of a sine at reference level                        */
    const char *path;
    int replace; /* 1: a file of that name may be replaced                   */
} es_tape_settings;

/* Side a, 48 kHz, reference level -12 dBFS. */
es_tape_settings es_tape_defaults(void);

typedef struct es_tape_file es_tape_file;

/*
 * Takes its place on the disk before anything is rendered. ES_ERR_INPUT, ES_ERR_ARG: as
 * es_programme_sound_create(); ES_ERR_ARG "wave-kind", ES_ERR_IO: as es_wave_writer_open().
 * ES_ERR_NOMEM. *out is NULL on error.
 */
es_status es_tape_file_open(const es_programme *programme, const es_tape_settings *settings,
                            es_tape_file **out, es_error *error);

/* Renders all of it. progress may be NULL. ES_ERR_IO. */
es_status es_tape_file_render(es_tape_file *file, void *who,
                              void (*progress)(void *who, double done_s, double share),
                              es_error *error);

/* Lets it appear; the file is gone whatever is returned. ES_ERR_IO. */
es_status es_tape_file_keep(es_tape_file *file, es_error *error);
/* NULL is fine. */
void es_tape_file_drop(es_tape_file *file);

/* --- cue sheet -------------------------------------------------------------------------- */

/* A sheet without sides. rate and reference NaN: there is no file. */
void es_cues_begin(const es_programme *programme, double rate_hz, double reference_dbfs,
                   es_cue_sheet *out);
/* file NULL: none. */
void es_cues_add_side(es_cue_sheet *sheet, size_t side, const char *file);

/* 1: the ending of the name is one of a cue sheet (.pdf, .txt). */
int es_cues_kind_is_known(const char *path);

/* The sheet to a stream, as PDF (paper/cue_sheet.h) or by print, as the path's ending says. ES_ERR_IO: as
 * wave/new_file.h. Else as es_cue_sheet_draw(). */
es_status es_cues_write(const es_cue_sheet *sheet, const char *path,
                        void (*print)(FILE *out, const es_cue_sheet *sheet), FILE *stream,
                        es_error *error);

#endif
