#include "command/terminal.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#define ESCAPE 27
#define ESCAPE_MS 30 /* the rest of a key's sequence comes at once */

/* There is one terminal, and signals have to find it. */
static struct termios before;
static volatile sig_atomic_t inside, keys, blank, plain; /* plain: no screen is taken, only keys */

static const char enter_text[] = "\033[?1049h\033[?25l\033[2J";
static const char leave_text[] = "\033[0m\033[?25h\033[?1049l";

int es_terminal_can_draw(void)
{
    const char *term = getenv("TERM");
    return isatty(STDOUT_FILENO) && term && term[0] && strcmp(term, "dumb") != 0;
}

int es_terminal_shows_utf8(void)
{
    const char *names[] = {"LC_ALL", "LC_CTYPE", "LANG"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        const char *value = getenv(names[i]);
        if (value && value[0])
            return strcasestr(value, "utf-8") != NULL || strcasestr(value, "utf8") != NULL;
    }
    return 0;
}

/* All that these two call may be called from a signal handler. */
static void write_all(const char *text, size_t length)
{
    while (length > 0) {
        ssize_t wrote = write(STDOUT_FILENO, text, length);
        if (wrote < 0 && errno != EINTR && errno != EAGAIN)
            return;
        text += wrote > 0 ? wrote : 0;
        length -= wrote > 0 ? (size_t)wrote : 0;
    }
}

static void give_back(void)
{
    if (!plain)
        write_all(leave_text, sizeof leave_text - 1);
    if (keys)
        tcsetattr(STDIN_FILENO, TCSADRAIN, &before);
}

static void take(void)
{
    struct termios raw = before;
    raw.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
    raw.c_cc[VMIN] = 0;
    raw.c_cc[VTIME] = 0;
    if (keys)
        tcsetattr(STDIN_FILENO, TCSADRAIN, &raw);
    if (!plain)
        write_all(enter_text, sizeof enter_text - 1);
    blank = 1;
}

static void on_stop(int number)
{
    int kept = errno;
    (void)number;
    if (inside)
        give_back();
    raise(SIGSTOP);
    if (inside)
        take();
    errno = kept;
}

static void on_fault(int number)
{
    if (inside)
        give_back();
    inside = 0;
    signal(number, SIG_DFL);
    raise(number);
}

static void watch_signals(void)
{
    static const int faults[] = {SIGQUIT, SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT};
    struct sigaction act = {.sa_flags = SA_RESTART};
    sigemptyset(&act.sa_mask);
    act.sa_handler = on_stop;
    sigaction(SIGTSTP, &act, NULL);
    act.sa_handler = on_fault;
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++)
        sigaction(faults[i], &act, NULL);
}

static void enter(int without_screen)
{
    static int known;
    if (inside)
        return;
    plain = without_screen;
    keys = isatty(STDIN_FILENO) && tcgetattr(STDIN_FILENO, &before) == 0;
    if (!known)
        atexit(es_terminal_leave);
    known = 1;
    watch_signals();
    inside = 1;
    take();
}

void es_terminal_enter(void)
{
    enter(0);
}

void es_terminal_listen(void)
{
    enter(1);
}

void es_terminal_leave(void)
{
    if (!inside)
        return;
    inside = 0;
    give_back();
    signal(SIGTSTP, SIG_DFL);
}

void es_terminal_size(int *columns, int *lines)
{
    struct winsize size;
    int known = ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 && size.ws_row > 0;
    *columns = known ? size.ws_col : 80;
    *lines = known ? size.ws_row : 24;
}

int es_terminal_is_blank(void)
{
    int was = blank;
    blank = 0;
    return was;
}

/* A byte within some milliseconds; -1: none; -2: there will be no more. */
static int next_byte(int wait_ms)
{
    struct pollfd from = {.fd = STDIN_FILENO, .events = POLLIN};
    unsigned char byte;
    if (poll(&from, 1, wait_ms) <= 0)
        return -1;
    if (!(from.revents & POLLIN))
        return -2;
    ssize_t got = read(STDIN_FILENO, &byte, 1);
    if (got == 1)
        return byte;
    return got < 0 && (errno == EINTR || errno == EAGAIN) ? -1 : -2;
}

/* After ESC: "[A" or "OA", with numbers between for keys that don't matter here. */
static es_key read_sequence(void)
{
    int byte = next_byte(ESCAPE_MS);
    if (byte != '[' && byte != 'O')
        return ES_KEY_NONE;
    do
        byte = next_byte(ESCAPE_MS);
    while (byte >= '0' && byte <= ';');
    switch (byte) {
    case 'A':
        return ES_KEY_UP;
    case 'B':
        return ES_KEY_DOWN;
    case 'C':
        return ES_KEY_RIGHT;
    case 'D':
        return ES_KEY_LEFT;
    default:
        return ES_KEY_NONE;
    }
}

es_key es_terminal_key(int *character)
{
    *character = 0;
    int byte = keys ? next_byte(0) : -1;
    if (byte == -2) {
        keys = 0; /* hung up */
        return ES_KEY_END;
    }
    if (byte < 0)
        return ES_KEY_NONE;
    if (byte == ESCAPE)
        return read_sequence();
    *character = byte;
    return ES_KEY_OTHER;
}
