#include "tape/scenario_keys.h"

#include "tape/number.h"

#include <math.h>
#include <string.h>

#define AT(field) offsetof(es_scenario, field)

/* clang-format off */
#define NUMBER(name, field, unit, shift, low, high) \
    {name, ES_KEY_NUMBER, AT(field), unit, shift, low, high, 0.0, {0}, 0}
#define SIZE(name, field, unit, shift, low, high) \
    {name, ES_KEY_NUMBER, AT(field), unit, shift, low, high, 0.0, {0}, 1}
#define LEVEL(name, field, unit, low, high, none) \
    {name, ES_KEY_LEVEL, AT(field), unit, 0, low, high, none, {0}, 0}
#define WORD(name, field, ...) \
    {name, ES_KEY_WORD, AT(field), "", 0, 0.0, 0.0, 0.0, {__VA_ARGS__}, 0}
#define OTHER(name, kind, field) {name, kind, AT(field), "", 0, 0.0, 0.0, 0.0, {0}, 0}
#define FLUTTER(name, part) \
    NUMBER(name, flutter[part][0], "%", -2, 0.0, 10.0), \
    NUMBER(name "-2", flutter[part][1], "%", -2, 0.0, 10.0), \
    NUMBER(name "-3", flutter[part][2], "%", -2, 0.0, 10.0)
#define SCREW(name, field, unit, most) \
    NUMBER(name "-gain", field.per_turn, unit, 0, 0.0, most), \
    WORD(name "-sense", field.anticlockwise_is_more, "clockwise", "anticlockwise"), \
    NUMBER(name "-backlash", field.backlash_deg, "deg", 0, 0.0, 180.0), \
    NUMBER(name "-range", field.range_turns, "turns", 0, 0.05, 50.0), \
    NUMBER(name "-start", field.start, "%", -2, 0.0, 100.0)
#define WOBBLE(name, i) \
    NUMBER(name "-rate", wobble[i].rate_hz, "Hz", 0, 0.0, 2000.0), \
    NUMBER(name, wobble[i].peak, "%", -2, 0.0, 10.0)

static const es_scenario_key keys[] = {
    OTHER("like", ES_KEY_LIKE, name),
    OTHER("name", ES_KEY_NAME, name),
    OTHER("about", ES_KEY_ABOUT, about),
    OTHER("seed", ES_KEY_SEED, seed),

    NUMBER("length", length_s, "s", 0, 0.01, 172800.0),
    NUMBER("lead-in", lead_in_s, "s", 0, 0.0, 3600.0),
    NUMBER("lead-out", lead_out_s, "s", 0, 0.0, 3600.0),
    NUMBER("start-ramp", start_ramp_s, "s", 0, 0.0, 60.0),
    NUMBER("stop-ramp", stop_ramp_s, "s", 0, 0.0, 60.0),

    OTHER("class", ES_KEY_CLASS, geometry.transport),
    SIZE("capstan-diameter", geometry.capstan_m, "mm", -3, 0.0, 50.0),
    SIZE("pinch-roller-diameter", geometry.pinch_roller_m, "mm", -3, 0.0, 100.0),
    SIZE("flywheel-diameter", geometry.flywheel_m, "mm", -3, 0.0, 300.0),
    SIZE("motor-pulley-diameter", geometry.motor_pulley_m, "mm", -3, 0.0, 100.0),
    SIZE("belt-length", geometry.belt_m, "mm", -3, 0.0, 2000.0),
    SIZE("idler-diameter", geometry.idler_m, "mm", -3, 0.0, 200.0),
    SIZE("hub-radius", geometry.hub_radius_m, "mm", -3, 1.0, 150.0),
    SIZE("tape-thickness", geometry.tape_thickness_m, "um", -6, 3.0, 100.0),
    SIZE("tape-length", geometry.tape_length_m, "m", 0, 1.0, 5000.0),
    SIZE("track-spacing", track_spacing_m, "mm", -3, 0.1, 50.0),
    SIZE("track-width", track_width_m, "mm", -3, 0.1, 25.0),
    NUMBER("tape-position", tape_position_min, "min", 0, 0.0, 1000.0),

    NUMBER("speed-error", speed_error, "%", -2, -30.0, 30.0),
    NUMBER("tape-error", tape_error, "%", -2, -20.0, 20.0),
    NUMBER("clock-error", clock_error, "ppm", -6, -10000.0, 10000.0),
    NUMBER("drift", drift_per_min, "%/min", -2, -10.0, 10.0),
    NUMBER("warm-up", warm_up, "%", -2, -20.0, 20.0),
    NUMBER("warm-up-time", warm_up_min, "min", 0, 0.01, 600.0),
    NUMBER("trimmer-gain", trimmer.per_turn, "%/turn", -2, 0.0, 100.0),
    WORD("trimmer-sense", trimmer.anticlockwise_is_faster, "clockwise", "anticlockwise"),
    NUMBER("trimmer-backlash", trimmer.backlash_deg, "deg", 0, 0.0, 180.0),
    NUMBER("trimmer-range", trimmer.range_turns, "turns", 0, 0.05, 50.0),
    NUMBER("trimmer-start", trimmer.start, "%", -2, 0.0, 100.0),
    NUMBER("motor-time", motor_s, "s", 0, 0.001, 30.0),

    FLUTTER("capstan-flutter", ES_PART_CAPSTAN),
    FLUTTER("pinch-roller-flutter", ES_PART_PINCH_ROLLER),
    FLUTTER("take-up-flutter", ES_PART_TAKE_UP),
    FLUTTER("supply-flutter", ES_PART_SUPPLY),
    FLUTTER("motor-flutter", ES_PART_MOTOR),
    FLUTTER("belt-flutter", ES_PART_BELT),
    FLUTTER("idler-flutter", ES_PART_IDLER),
    WOBBLE("wobble-1", 0), WOBBLE("wobble-2", 1), WOBBLE("wobble-3", 2), WOBBLE("wobble-4", 3),
    NUMBER("random-flutter", random.rms, "%", -2, 0.0, 5.0),
    NUMBER("random-low", random.low_hz, "Hz", 0, 0.0, 1000.0),
    NUMBER("random-high", random.high_hz, "Hz", 0, 0.05, 2000.0),
    NUMBER("scrape-flutter", scrape.rms, "%", -2, 0.0, 5.0),
    NUMBER("scrape-low", scrape.low_hz, "Hz", 0, 20.0, 20000.0),
    NUMBER("scrape-high", scrape.high_hz, "Hz", 0, 20.0, 20000.0),

    WORD("carries", carries, "tone", "broadband"),
    NUMBER("tone", tone_hz, "Hz", 0, 20.0, 40000.0),
    NUMBER("second-harmonic", second, "%", -2, 0.0, 100.0),
    NUMBER("third-harmonic", third, "%", -2, 0.0, 100.0),
    NUMBER("level", level_dbfs, "dBFS", 0, -120.0, 40.0),
    NUMBER("balance", balance_db, "dB", 0, -60.0, 60.0),
    NUMBER("tone-on", tone_on_s, "s", 0, 0.0, 3600.0),
    NUMBER("tone-off", tone_off_s, "s", 0, 0.0, 3600.0),

    NUMBER("azimuth", azimuth_arcmin, "arcmin", 0, -120.0, 120.0),
    SCREW("azimuth-screw", azimuth_screw, "arcmin/turn", 600.0),
    SCREW("level-trimmer", level_trimmer, "dB/turn", 100.0),
    NUMBER("head-spacing", head_spacing_m, "um", -6, 0.0, 50.0),
    WORD("polarity", opposed, "same", "opposed"),
    WORD("dead-channel", dead, "none", "left", "right"),
    LEVEL("snr", snr_db, "dB", -20.0, 160.0, HUGE_VAL),
    NUMBER("hum-frequency", hum_hz, "Hz", 0, 10.0, 500.0),
    LEVEL("hum", hum_dbfs, "dBFS", -160.0, 0.0, -HUGE_VAL),
    LEVEL("buzz", buzz_dbfs, "dBFS", -160.0, 0.0, -HUGE_VAL),
    NUMBER("dropouts", dropouts_per_min, "/min", 0, 0.0, 3000.0),
    NUMBER("dropout-depth", dropout_db, "dB", 0, 0.0, 120.0),
    NUMBER("dropout-length", dropout_s, "ms", -3, 1.0, 10000.0),
    NUMBER("clipping", clip_dbfs, "dBFS", 0, -60.0, 0.0),
    NUMBER("dc-offset", dc_fs, "%FS", -2, -90.0, 90.0),
};
/* clang-format on */

size_t es_scenario_key_count(void)
{
    return sizeof keys / sizeof *keys;
}

const es_scenario_key *es_scenario_key_at(size_t index)
{
    return &keys[index];
}

double *es_scenario_number(es_scenario *scenario, const es_scenario_key *key)
{
    return (double *)(void *)((char *)scenario + key->offset);
}

unsigned *es_scenario_word(es_scenario *scenario, const es_scenario_key *key)
{
    return (unsigned *)(void *)((char *)scenario + key->offset);
}

static size_t word_count(const es_scenario_key *key)
{
    size_t count = 0;
    while (count < sizeof key->words / sizeof *key->words && key->words[count])
        count++;
    return count;
}

/* Within the range, give or take the rounding of a change of unit. */
static int within(double value, const es_scenario_key *key)
{
    double number = value / pow(10.0, key->shift), slack = 1e-12;
    return number >= key->low - slack * fabs(key->low) &&
           number <= key->high + slack * fabs(key->high); /* false for NaN */
}

int es_scenario_key_holds(const es_scenario *scenario, const es_scenario_key *key)
{
    es_scenario copy = *scenario;
    switch (key->kind) {
    case ES_KEY_NAME:
        return memchr(copy.name, '\0', sizeof copy.name) &&
               es_scenario_name_is_sound(copy.name, strlen(copy.name));
    case ES_KEY_ABOUT:
        return memchr(copy.about, '\0', sizeof copy.about) &&
               es_scenario_about_is_sound(copy.about, strlen(copy.about));
    case ES_KEY_SEED:
        return copy.seed <= ES_SEED_MOST;
    case ES_KEY_CLASS:
        return (unsigned)copy.geometry.transport < ES_TRANSPORT_CLASS_COUNT;
    case ES_KEY_WORD:
        return *es_scenario_word(&copy, key) < word_count(key);
    case ES_KEY_LEVEL:
        return *es_scenario_number(&copy, key) == key->none ||
               within(*es_scenario_number(&copy, key), key);
    case ES_KEY_NUMBER:
        return within(*es_scenario_number(&copy, key), key);
    case ES_KEY_LIKE:
        break;
    }
    return 1;
}

static void wants_words(es_text *text, const es_scenario_key *key)
{
    for (size_t i = 0, count = word_count(key); i < count; i++)
        es_text_add(text, "%s\"%s\"", i == 0 ? "" : i + 1 == count ? " or " : ", ", key->words[i]);
}

static void wants_number(es_text *text, const es_scenario_key *key)
{
    es_text_add(text, "a number from ");
    es_decimal_write(text, key->low, 0);
    es_text_add(text, " to ");
    es_decimal_write(text, key->high, 0);
    es_text_add(text, " with the unit %s", key->unit);
    if (key->kind == ES_KEY_LEVEL)
        es_text_add(text, ", or \"none\"");
}

void es_scenario_key_wants(es_text *text, const es_scenario_key *key)
{
    switch (key->kind) {
    case ES_KEY_LIKE:
        es_text_add(text, "the name of a built-in scenario");
        break;
    case ES_KEY_NAME:
        es_text_add(text, "lower-case letters, digits and hyphens, at most %d",
                    ES_SCENARIO_NAME - 1);
        break;
    case ES_KEY_ABOUT:
        es_text_add(text, "a line of text of at most %d bytes", ES_SCENARIO_ABOUT - 1);
        break;
    case ES_KEY_SEED:
        es_text_add(text, "a whole number from 0 to %llu", (unsigned long long)ES_SEED_MOST);
        break;
    case ES_KEY_CLASS:
        es_text_add(text, "a class of machine (");
        for (int i = 0; i < ES_TRANSPORT_CLASS_COUNT; i++)
            es_text_add(text, "%s%s", i ? ", " : "", es_transport_name((es_transport_class)i));
        es_text_add(text, ")");
        break;
    case ES_KEY_WORD:
        wants_words(text, key);
        break;
    case ES_KEY_NUMBER:
    case ES_KEY_LEVEL:
        wants_number(text, key);
        break;
    }
}

int es_scenario_name_is_sound(const char *name, size_t length)
{
    if (length == 0 || length >= ES_SCENARIO_NAME)
        return 0;
    for (size_t i = 0; i < length; i++)
        if (!((name[i] >= 'a' && name[i] <= 'z') || (name[i] >= '0' && name[i] <= '9') ||
              name[i] == '-'))
            return 0;
    return 1;
}

/* One line that a comment sign or a control character would not cut, without blanks around. */
int es_scenario_about_is_sound(const char *about, size_t length)
{
    if (length >= ES_SCENARIO_ABOUT)
        return 0;
    for (size_t i = 0; i < length; i++)
        if ((unsigned char)about[i] < ' ' || about[i] == 0x7F || about[i] == '#')
            return 0;
    return length == 0 || (about[0] != ' ' && about[length - 1] != ' ');
}
