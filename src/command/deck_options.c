#include "command/deck_options.h"

#include <math.h>
#include <stdlib.h>

/* Where a length goes that was given in millimetres or cm/s. */
static const struct {
    int option;
    size_t at;
    double unit;
} lengths[] = {
    {ES_DECK_SPEED, offsetof(es_deck_record, speed_m_s), 0.01},
    {ES_DECK_CAPSTAN, offsetof(es_deck_record, capstan_m), 0.001},
    {ES_DECK_PINCH_ROLLER, offsetof(es_deck_record, pinch_roller_m), 0.001},
    {ES_DECK_FLYWHEEL, offsetof(es_deck_record, flywheel_m), 0.001},
    {ES_DECK_MOTOR_PULLEY, offsetof(es_deck_record, motor_pulley_m), 0.001},
    {ES_DECK_BELT, offsetof(es_deck_record, belt_m), 0.001},
    {ES_DECK_IDLER, offsetof(es_deck_record, idler_m), 0.001},
    {ES_DECK_HUB_RADIUS, offsetof(es_deck_record, hub_radius_m), 0.001},
};

/* Kept with its folders: the records are read from anywhere. */
static es_status take_photo(const es_option_value *value, char *to, size_t room, es_error *error)
{
    if (!value->given)
        return ES_OK;
    char *whole = realpath(value->text, NULL);
    if (!whole)
        return es_fail(error, ES_ERR_INPUT, "no-photo",
                       "There is no picture at %.200s; name a file that is there.", value->text);
    es_status status = es_use_text("photo's path", whole, to, room, error);
    free(whole);
    return status;
}

es_status es_deck_take_options(const es_option_value *v, es_deck_record *deck, es_error *error)
{
    for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++) {
        const es_option_value *value = &v[lengths[i].option];
        double *to = (double *)(void *)((char *)deck + lengths[i].at);
        if (value->given)
            *to = value->number > 0.0 ? value->number * lengths[i].unit : (double)NAN;
    }
    es_status status =
        es_use_text("class", v[ES_DECK_CLASS].text, deck->transport, sizeof deck->transport, error);
    if (status == ES_OK)
        status = es_use_text("text of notes", v[ES_DECK_NOTES].text, deck->notes,
                             sizeof deck->notes, error);
    if (status == ES_OK)
        status = take_photo(&v[ES_DECK_PHOTO], deck->photo, sizeof deck->photo, error);
    return status;
}
