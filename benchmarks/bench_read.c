/* The bare loop that bench_check.py compares with: libsndfile reads a file to its end as float. */
#include <sndfile.h>
#include <stdio.h>
#include <time.h>

#define FRAMES 8192

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

int main(int count, char **words)
{
    static float frames[2 * FRAMES];
    SF_INFO info = {0};
    double start_s = now_s();
    SNDFILE *file = count == 2 ? sf_open(words[1], SFM_READ, &info) : NULL;
    if (!file || info.channels != 2)
        return 2;
    while (sf_readf_float(file, frames, FRAMES) > 0) {
    }
    sf_close(file);
    printf("%.4f\n", now_s() - start_s);
    return 0;
}
