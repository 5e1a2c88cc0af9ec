#include "support_wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>

#include <cmocka.h>
#include <dirent.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static char folder[64];

const char *here(const char *name)
{
    static char paths[8][400];
    static int next;
    if (!folder[0]) {
        snprintf(folder, sizeof folder, "/tmp/evenspool-test-XXXXXX");
        assert_non_null(mkdtemp(folder));
    }
    next = (next + 1) % 8;
    snprintf(paths[next], sizeof paths[next], "%s/%s", folder, name);
    return paths[next];
}

void clear_here(void)
{
    DIR *open = folder[0] ? opendir(folder) : NULL;
    if (!open)
        return;
    for (struct dirent *entry; (entry = readdir(open));)
        if (entry->d_name[0] != '.')
            remove(here(entry->d_name));
    closedir(open);
    rmdir(folder);
    folder[0] = '\0';
}

const char *write_bytes(const char *name, const void *bytes, size_t count)
{
    const char *path = here(name);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, count, file), count);
    fclose(file);
    return path;
}

double sample_at(size_t frame, int channel)
{
    return 0.9 * sin(0.05 * (double)frame + 0.7 * channel);
}

const char *write_capture(const char *name, int format, int rate_hz, int channels, size_t frames,
                          double gain)
{
    const char *path = here(name);
    SF_INFO info = {.samplerate = rate_hz, .channels = channels, .format = format};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (!file)
        fail_msg("%s: %s", name, sf_strerror(NULL));
    double *samples = calloc(frames * (size_t)channels + 1, sizeof *samples);
    for (size_t i = 0; i < frames * (size_t)channels; i++)
        samples[i] = gain * sample_at(i / (size_t)channels, (int)(i % (size_t)channels));
    assert_int_equal(sf_writef_double(file, samples, (sf_count_t)frames), frames);
    sf_close(file);
    free(samples);
    return path;
}
