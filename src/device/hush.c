#include "device/hush.h"

#include <string.h>
#include <unistd.h>

int es_hush_is_chatter(const char *line)
{
    static const char *const beginnings[] = {
        "ALSA lib ",
        "Expression '",
        "Cannot connect to server ",
        "Cannot lock down ",
        "jack server is not running",
        "JackShmReadWritePtr::",
        "connect(2) call to ",
        "attempt to connect to server failed",
        "Failed to connect to server",
    };
    for (size_t i = 0; i < sizeof beginnings / sizeof *beginnings; i++)
        if (strncmp(line, beginnings[i], strlen(beginnings[i])) == 0)
            return 1;
    return 0;
}

void es_hush_begin(es_hush *h)
{
    h->kept = -1;
    h->into = tmpfile();
    if (!h->into)
        return;
    fflush(stderr);
    h->kept = dup(STDERR_FILENO);
    if (h->kept >= 0 && dup2(fileno(h->into), STDERR_FILENO) >= 0)
        return;
    if (h->kept >= 0)
        close(h->kept);
    h->kept = -1;
}

static void pass_on(FILE *from)
{
    char line[1024];
    int whole = 1, chatter = 0; /* the line in hand begins here; is left out */
    rewind(from);
    while (fgets(line, sizeof line, from)) {
        if (whole) /* some of the chatter ends with an empty line */
            chatter = es_hush_is_chatter(line) || (chatter && line[0] == '\n');
        if (!chatter)
            fputs(line, stderr);
        whole = strchr(line, '\n') != NULL;
    }
    fflush(stderr);
}

void es_hush_end(es_hush *h)
{
    if (h->kept >= 0) {
        fflush(stderr);
        dup2(h->kept, STDERR_FILENO);
        close(h->kept);
        pass_on(h->into);
    }
    if (h->into)
        fclose(h->into);
    *h = (es_hush){.kept = -1};
}
