/*
 * Ctrl-C and its like (SIGINT, SIGTERM, SIGHUP) as a question that can be asked. The second time ends
 * the program at once, after at_once() (NULL: nothing), which may only do what a signal handler may.
 * A reader of our output that went away is an error of writing, no signal.
 */
#ifndef ES_COMMAND_STOP_SIGNAL_H
#define ES_COMMAND_STOP_SIGNAL_H

void es_stop_watch(void (*at_once)(void));
int es_stop_asked(void);

/* Waits for it. */
void es_stop_wait(void);

#endif
