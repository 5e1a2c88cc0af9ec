/*
 * The server by itself, for tests that talk to it: serve_program [--lan] [--port N] [--source S] [--records F]
 * Prints its addresses as one JSON line, and ends on SIGTERM, or when standard input ends.
 */
#include "serve/serve.h"

#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static volatile sig_atomic_t ended;

static void end(int signal)
{
    (void)signal;
    ended = 1;
}

static es_serve_config config_of(int argc, char **argv)
{
    es_serve_config config = es_serve_defaults();
    config.port = 0;
    config.records = "no-records-here/records.db";
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--lan") == 0)
            config.lan = 1;
        else if (strcmp(argv[i], "--port") == 0 && i + 1 < argc)
            config.port = atoi(argv[++i]);
        else if (strcmp(argv[i], "--records") == 0 && i + 1 < argc)
            config.records = argv[++i];
        else if (strcmp(argv[i], "--source") == 0 && i + 1 < argc)
            snprintf(config.session.source, sizeof config.session.source, "%s", argv[++i]);
    }
    return config;
}

static void wait_for_end(void)
{
    struct pollfd in = {.fd = STDIN_FILENO, .events = POLLIN};
    char byte;
    while (!ended)
        if (poll(&in, 1, 200) > 0 && read(STDIN_FILENO, &byte, 1) <= 0)
            break;
}

int main(int argc, char **argv)
{
    es_serve_config config = config_of(argc, argv);
    es_serve *serve;
    es_error error = {0};
    struct sigaction act = {.sa_handler = end};
    sigaction(SIGTERM, &act, NULL);
    if (es_serve_start(&config, &serve, &error) != ES_OK) {
        fprintf(stderr, "%s: %s\n", error.code, error.text);
        return error.status == ES_ERR_ARG ? 2 : error.status == ES_ERR_INPUT ? 3 : 4;
    }
    char *code;
    if (es_serve_pairing_text(serve, &code) == ES_OK)
        fputs(code, stderr);
    free(code);
    printf("{\"address\": \"%s\", \"pairing\": \"%s\"}\n", es_serve_address(serve),
           es_serve_pairing_address(serve));
    fflush(stdout);
    wait_for_end();
    es_serve_stop(serve);
    return 0;
}
