/*
 * The terminal while a screen is on it: keys without Enter, size, and everything put back at the
 * end, whatever the end is.
 *
 *   ends    _leave, the program's end, a signal that stops the program (Ctrl-Z; the screen is back
 *           when it goes on), and signals of a fault
 *   thread  one terminal in a program, one thread
 */
#ifndef ES_COMMAND_TERMINAL_H
#define ES_COMMAND_TERMINAL_H

typedef enum es_key {
    ES_KEY_NONE,
    ES_KEY_LEFT,
    ES_KEY_RIGHT,
    ES_KEY_UP,
    ES_KEY_DOWN,
    ES_KEY_END,  /* the keyboard is gone  */
    ES_KEY_OTHER /* see *character        */
} es_key;

/* 1: standard output is a terminal that a screen can be drawn on (TERM is set and not "dumb"). */
int es_terminal_can_draw(void);

/* 1: the environment says that it shows UTF-8. */
int es_terminal_shows_utf8(void);

/* Takes the terminal over. Standard input need not be one: then there are no keys. */
void es_terminal_enter(void);
/* Takes its keys only: text goes on in lines. */
void es_terminal_listen(void);
void es_terminal_leave(void);

/* Columns and lines; 80 and 24 when they can't be known. */
void es_terminal_size(int *columns, int *lines);

/* 1 once after the screen must be drawn from nothing (entered, stopped and gone on). */
int es_terminal_is_blank(void);

/* The next key that waits, without waiting for one. *character is 0 unless ES_KEY_OTHER. */
es_key es_terminal_key(int *character);

#endif
