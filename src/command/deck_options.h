/* What `deck add` and `deck edit` can say of a deck. */
#ifndef ES_COMMAND_DECK_OPTIONS_H
#define ES_COMMAND_DECK_OPTIONS_H

#include "command/ledger_use.h"

enum {
    ES_DECK_CLASS,
    ES_DECK_SPEED,
    ES_DECK_CAPSTAN,
    ES_DECK_PINCH_ROLLER,
    ES_DECK_FLYWHEEL,
    ES_DECK_MOTOR_PULLEY,
    ES_DECK_BELT,
    ES_DECK_IDLER,
    ES_DECK_HUB_RADIUS,
    ES_DECK_PHOTO,
    ES_DECK_NOTES,
    ES_DECK_DRIFT,
    ES_DECK_RECORDS,
    ES_DECK_JSON,
    ES_DECK_SHARED
};

/* The lines of a table of options, in that order. */
#define ES_DECK_OPTIONS                                                                            \
    [ES_DECK_CLASS] =                                                                              \
        {"class",                                                                                  \
         0,                                                                                        \
         ES_OPTION_CHOICE,                                                                         \
         "CLASS",                                                                                  \
         "Kind of machine: cassette (also without it), microcassette, or reel with its speed in "  \
         "cm/s.",                                                                                  \
         0.0,                                                                                      \
         0.0,                                                                                      \
         "cassette|microcassette|reel-4.76|reel-9.5|reel-19|reel-38|reel-76"},                     \
    [ES_DECK_SPEED] = {"speed",                                                                    \
                       0,                                                                          \
                       ES_OPTION_NUMBER,                                                           \
                       "CM/S",                                                                     \
                       "Nominal tape speed, when it is not the class's.",                          \
                       0.0,                                                                        \
                       200.0,                                                                      \
                       NULL},                                                                      \
    [ES_DECK_CAPSTAN] = {"capstan", 0,   ES_OPTION_NUMBER, "MM", "Diameter of the capstan.", 0.0,  \
                         100.0,     NULL},                                                         \
    [ES_DECK_PINCH_ROLLER] =                                                                       \
        {"pinch-roller", 0,   ES_OPTION_NUMBER, "MM", "Diameter of the pinch roller.", 0.0,        \
         200.0,          NULL},                                                                    \
    [ES_DECK_FLYWHEEL] = {"flywheel",                                                              \
                          0,                                                                       \
                          ES_OPTION_NUMBER,                                                        \
                          "MM",                                                                    \
                          "Diameter of the flywheel where the belt runs.",                         \
                          0.0,                                                                     \
                          500.0,                                                                   \
                          NULL},                                                                   \
    [ES_DECK_MOTOR_PULLEY] =                                                                       \
        {"motor-pulley", 0,   ES_OPTION_NUMBER, "MM", "Diameter of the motor's pulley.", 0.0,      \
         200.0,          NULL},                                                                    \
    [ES_DECK_BELT] = {"belt", 0,   ES_OPTION_NUMBER, "MM", "Length of the belt all around.", 0.0,  \
                      3000.0, NULL},                                                               \
    [ES_DECK_IDLER] = {"idler",                                                                    \
                       0,                                                                          \
                       ES_OPTION_NUMBER,                                                           \
                       "MM",                                                                       \
                       "Diameter of the idler that touches the flywheel.",                         \
                       0.0,                                                                        \
                       300.0,                                                                      \
                       NULL},                                                                      \
    [ES_DECK_HUB_RADIUS] = {"hub-radius",                                                          \
                            0,                                                                     \
                            ES_OPTION_NUMBER,                                                      \
                            "MM",                                                                  \
                            "Radius of the hub on which the tape winds.",                          \
                            0.0,                                                                   \
                            200.0,                                                                 \
                            NULL},                                                                 \
    [ES_DECK_PHOTO] = {"photo",                                                                    \
                       0,                                                                          \
                       ES_OPTION_FILE,                                                             \
                       "FILE",                                                                     \
                       "A picture of the deck; it stays where it is, only its path is kept.",      \
                       0.0,                                                                        \
                       0.0,                                                                        \
                       NULL},                                                                      \
    [ES_DECK_NOTES] = {"notes", 0,   ES_OPTION_WORD, "TEXT", "Anything worth remembering.", 0.0,   \
                       0.0,     NULL},                                                             \
    [ES_DECK_DRIFT] = {"drift",                                                                    \
                       0,                                                                          \
                       ES_OPTION_NUMBER,                                                           \
                       "PERCENT",                                                                  \
                       "How far its speed may wander within a year, as a standard deviation that " \
                       "grows with the square root of time; 0.1 without it, 0 for not at all.",    \
                       0.0,                                                                        \
                       100.0,                                                                      \
                       NULL},                                                                      \
    [ES_DECK_RECORDS] = ES_RECORDS_OPTION, [ES_DECK_JSON] = ES_RECORDS_JSON_OPTION

/*
 * Takes over what was given; a size of 0 means: not known. ES_ERR_INPUT "no-photo". ES_ERR_ARG: a
 * text is too long.
 */
es_status es_deck_take_options(const es_option_value *values, es_deck_record *deck,
                               es_error *error);

#endif
