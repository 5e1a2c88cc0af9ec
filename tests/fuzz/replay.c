/*
 * Stands in for a fuzzer where there is none: feeds a fuzz target every file of the folders named
 * on the command line, each also cut short and with single bytes changed, always the same ones.
 */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CHANGES_MOST 400

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* A copy of exactly that size, so that a sanitizer sees the first byte read past its end. */
static void feed(const uint8_t *data, size_t size)
{
    uint8_t *copy = malloc(size ? size : 1);
    if (!copy)
        abort();
    memcpy(copy, data, size);
    LLVMFuzzerTestOneInput(copy, size);
    free(copy);
}

static void feed_variants(uint8_t *data, size_t size)
{
    size_t step = size / CHANGES_MOST + 1;
    feed(data, size);
    for (size_t i = 0; i < size; i += step) {
        uint8_t kept = data[i];
        feed(data, i);
        data[i] = (uint8_t)(kept ^ (1u << (i % 8)));
        feed(data, size);
        data[i] = i % 2 ? 0xff : 0;
        feed(data, size);
        data[i] = kept;
    }
}

static int feed_file(const char *folder, const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "rb");
    if (!file)
        return 0;
    static uint8_t data[1 << 20];
    size_t size = fread(data, 1, sizeof data, file);
    fclose(file);
    feed_variants(data, size);
    return 1;
}

int main(int count, char **folders)
{
    int fed = 0;
    for (int i = 1; i < count; i++) {
        DIR *folder = opendir(folders[i]);
        if (!folder) {
            fprintf(stderr, "%s: no such folder\n", folders[i]);
            return 1;
        }
        for (struct dirent *entry; (entry = readdir(folder));)
            if (entry->d_name[0] != '.')
                fed += feed_file(folders[i], entry->d_name);
        closedir(folder);
    }
    printf("%d seed(s) fed\n", fed);
    return fed > 0 ? 0 : 1;
}
