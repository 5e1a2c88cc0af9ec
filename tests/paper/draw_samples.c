/* Draws every sample in all three kinds into a folder, to be looked at: draw_samples FOLDER */
#include "paper/picture.h"
#include "samples.h"

#include <stdio.h>

static es_check_result result;

int main(int count, char **words)
{
    static const char *const kinds[] = {"png", "svg", "pdf"};
    if (count != 2) {
        fprintf(stderr, "usage: draw_samples FOLDER\n");
        return 2;
    }
    for (int s = 0; s < SAMPLE_COUNT; s++) {
        for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
            char path[600];
            es_error error = {0};
            sample_fill((sample)s, &result);
            snprintf(path, sizeof path, "%s/%s.%s", words[1], sample_name((sample)s), kinds[k]);
            if (es_picture_draw(&result, "Living-room deck, as found: side A, middle.wav", path,
                                &error) != ES_OK) {
                fprintf(stderr, "%s: %s\n", path, error.text);
                return 1;
            }
        }
    }
    return 0;
}
