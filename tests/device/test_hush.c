#include "cm.h"

#include "device/hush.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* What is printed while hushed, after passing through; into `told`. */
static void hush(const char *printed, char *told, size_t room)
{
    FILE *file = tmpfile();
    fflush(stderr);
    int kept = dup(STDERR_FILENO);
    dup2(fileno(file), STDERR_FILENO);
    es_hush h;
    es_hush_begin(&h);
    assert_int_equal(write(STDERR_FILENO, printed, strlen(printed)), (ssize_t)strlen(printed));
    es_hush_end(&h);
    fputs("after\n", stderr);
    fflush(stderr);
    dup2(kept, STDERR_FILENO);
    close(kept);
    rewind(file);
    size_t got = fread(told, 1, room - 1, file);
    told[got] = '\0';
    fclose(file);
}

/* Lines as ALSA's and JACK's libraries of Debian 12 print them. */
static void chatter_of_libraries_is_left_out(void **state)
{
    (void)state;
    char told[8192];
    hush("ALSA lib pcm.c:2666:(snd_pcm_open_noupdate) Unknown PCM cards.pcm.rear\n"
         "Cannot connect to server socket err = No such file or directory\n"
         "Cannot connect to server request channel\n"
         "jack server is not running or cannot be started\n"
         "JackShmReadWritePtr::~JackShmReadWritePtr - Init not done for -1, skipping unlock\n"
         "ALSA lib pcm_pulse.c:758:(pulse_prepare) PulseAudio: Unable to create stream: No such "
         "entity\n\n"
         "Expression 'ret' failed in 'src/hostapi/alsa/pa_linux_alsa.c', line: 1736\n",
         told, sizeof told);
    assert_string_equal(told, "after\n");
}

static void our_own_lines_are_not_lost(void **state)
{
    (void)state;
    char told[8192], printed[4096];
    hush("The disk is full.\n\nALSA lib x\nAnd now?", told, sizeof told);
    assert_string_equal(told, "The disk is full.\n\nAnd now?after\n"); /* the empty line is ours */
    memset(printed, 'x', 3000);
    strcpy(printed + 3000, "\n");
    hush(printed, told, sizeof told);
    assert_int_equal(strlen(told), 3001 + strlen("after\n")); /* longer than any buffer of ours */
    memcpy(printed, "ALSA lib ", 9);
    hush(printed, told, sizeof told);
    assert_string_equal(told, "after\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chatter_of_libraries_is_left_out),
        cmocka_unit_test(our_own_lines_are_not_lost),
    };
    return cmocka_run_group_tests_name("device/hush", tests, NULL, NULL);
}
