/* What the tests of the wave floor share: files in a folder of their own, written without our code. */
#ifndef ES_TESTS_SUPPORT_WAVE_H
#define ES_TESTS_SUPPORT_WAVE_H

#include <stddef.h>

/* A path in a fresh folder of this process; static storage, eight at a time. */
const char *here(const char *name);
/* Removes the folder with all that is in it. */
void clear_here(void);

/* Writes bytes as they are. */
const char *write_bytes(const char *name, const void *bytes, size_t count);

/* The sample that every written capture holds: a slow sine that differs by channel, |x| <= 0.9. */
double sample_at(size_t frame, int channel);

/* Writes frames of sample_at() times gain by the audio library alone; format as SF_FORMAT_... */
const char *write_capture(const char *name, int format, int rate_hz, int channels, size_t frames,
                          double gain);

#endif
