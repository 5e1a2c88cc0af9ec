/* evenspool trim: the coach, live in the terminal. */
#include "command/ledger_use.h"
#include "command/say.h"
#include "command/stop_signal.h"
#include "command/terminal.h"
#include "command/trim_face.h"
#include "command/trim_options.h"
#include "command/trim_text.h"
#include "command/verb.h"
#include "live/text_file.h"
#include "json/session_json.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LOOK_S 0.05

typedef struct job {
    es_trim_asked asked;
    es_session *session;
    es_text_file *file; /* of --session; NULL: not asked for */
    es_ledger *ledger;  /* of --deck; NULL: no job is kept   */
    char opened_at[ES_TIME_ROOM];
    int reached; /* the final reading stood           */
} job;

static int fail(const char *about, const es_error *error)
{
    es_say_error(about, error);
    return es_exit_of(error->status);
}

/* --- listening ---------------------------------------------------------------------------- */

static es_trim_face choose_face(const job *j)
{
    es_trim_face face = j->asked.json            ? es_trim_json_lines()
                        : es_terminal_can_draw() ? es_trim_screen()
                                                 : es_trim_lines();
    face.session = j->session;
    face.adjust = j->asked.session.adjust;
    face.colour = j->asked.colour;
    face.sound = j->asked.sound;
    face.sound_level_db = j->asked.sound_level_db;
    face.output = j->asked.output;
    return face;
}

static void follow(job *j, es_trim_face *face)
{
    static es_trim_snapshot now; /* large */
    uint64_t cursor = 0, skipped;
    int got;
    while (!face->leaving && !es_stop_asked() && !ferror(stdout) &&
           (got = es_session_next(j->session, &cursor, LOOK_S, &now, &skipped)) >= 0) {
        es_session_facts facts = es_session_facts_of(j->session);
        if (got > 0) {
            face->show(face, &now, &facts, skipped);
            j->reached |= now.final;
        }
        face->idle(face);
        if (j->reached && j->asked.until_there)
            break;
    }
}

static int listen(job *j)
{
    es_trim_face face = choose_face(j);
    if (!face.begin(&face)) {
        es_say(NULL, "There is not enough memory to show anything.");
        return ES_EXIT_AROUND;
    }
    follow(j, &face);
    es_session_stop(j->session);
    face.idle(&face); /* what came up at the very end */
    face.end(&face);
    return ES_EXIT_DONE;
}

/* --- the end ------------------------------------------------------------------------------ */

static int write_session(job *j, const es_trim_session *session)
{
    char *text;
    es_error error = {0};
    es_text_file *file = j->file;
    j->file = NULL;
    if (!file)
        return ES_EXIT_DONE;
    if (es_session_to_json(session, 1, &text) != ES_OK) {
        es_text_file_drop(file);
        es_say(j->asked.session_path, "There is not enough memory to write it.");
        return ES_EXIT_AROUND;
    }
    fprintf(es_text_file_stream(file), "%s\n", text);
    free(text);
    return es_text_file_keep(file, &error) == ES_OK ? ES_EXIT_DONE
                                                    : fail(j->asked.session_path, &error);
}

/* As found, the turns and as left. Where it can't be kept the figures have been shown. */
static int keep_job(job *j, const es_trim_session *session)
{
    es_error error = {0};
    es_ledger_use use = {j->asked.records, 0};
    char *found = NULL, *left = NULL;
    int64_t id;
    if (!j->ledger || (isnan(session->as_left.error_percent) && session->nudge_count == 0))
        return ES_EXIT_DONE; /* or nothing came of it */
    es_status status =
        es_trim_reading_to_json(session->adjust, &session->as_found, "as-found", &found);
    if (status == ES_OK)
        status = es_session_to_json(session, 1, &left);
    es_job_entry entry = {.deck = j->asked.deck,
                          .tape = j->asked.tape,
                          .opened_at = j->opened_at,
                          .asked = j->asked.asked,
                          .session = session,
                          .found_schema = es_trim_reading_schema(session->adjust),
                          .found_document = found,
                          .left_schema = es_session_schema(session->adjust),
                          .left_document = left};
    if (status != ES_OK)
        es_fail(&error, status, "no-memory", "There is not enough memory to keep the job.");
    else
        status = es_ledger_keep_job(j->ledger, &entry, &id, &error);
    free(found);
    free(left);
    if (status != ES_OK)
        return es_use_fail(&use, &error);
    fprintf(j->asked.json ? stderr : stdout, "Kept as job %lld of %s.\n", (long long)id,
            j->asked.deck);
    return ES_EXIT_DONE;
}

static int exit_of_session(const job *j, const es_session_standing *at)
{
    if (at->phase == ES_SESSION_FAILED) {
        es_say(at->source, "%s", at->sentence);
        return es_exit_of(at->status);
    }
    if (j->asked.until_there && !j->reached) {
        es_say(NULL, "The target was not reached.");
        return ES_EXIT_OUTSIDE;
    }
    return at->record_sentence[0] ? ES_EXIT_AROUND : ES_EXIT_DONE;
}

static int conclude(job *j)
{
    static es_trim_session session; /* large */
    es_session_facts facts = es_session_facts_of(j->session);
    es_session_record(j->session, &session);
    fflush(stdout);
    es_trim_print_summary(j->asked.json ? stderr : stdout, &session, &facts);
    int wrote = write_session(j, &session), kept = keep_job(j, &session);
    int code = exit_of_session(j, &facts.standing);
    wrote = wrote > kept ? wrote : kept;
    return wrote > code ? wrote : code;
}

/* --- the beginning ------------------------------------------------------------------------ */

/* The name that an error of opening is about. */
static const char *about_what(const job *j, const es_error *error)
{
    return error->status == ES_ERR_IO    ? j->asked.session.record_path
           : error->status == ES_ERR_ARG ? "trim"
                                         : j->asked.session.source;
}

static es_status begin(job *j, const char **about, es_error *error)
{
    es_status status = ES_OK;
    *about = j->asked.session_path;
    if (j->asked.session_path)
        status = es_text_file_open(j->asked.session_path, j->asked.force, &j->file, error);
    if (status != ES_OK)
        return status;
    status = es_session_open(&j->asked.session, &j->session, error);
    if (status == ES_OK && j->asked.sound > 0)
        status = es_session_sound(j->session, j->asked.sound, j->asked.sound_level_db,
                                  j->asked.output, error);
    if (status != ES_OK)
        *about = about_what(j, error);
    return status;
}

/* What the records know of the tape, and the deck that a job will be kept for. */
static es_status ask_records(job *j, es_error *error)
{
    es_trim_asked *a = &j->asked;
    es_tape_record tape;
    es_deck_record deck;
    es_ledger_now(j->opened_at);
    es_status status =
        es_use_look_up(a->records, a->tape, &tape, a->deck, &deck, &j->ledger, error);
    if (status == ES_OK && a->tape) {
        a->session.tape_error_percent = tape.certificate_percent;
        a->session.tape_u95_percent = 2.0 * tape.certificate_u_percent; /* k = 2, as it is asked */
        if (a->session.nominal_hz == 0.0 && !isnan(tape.nominal_hz))
            a->session.nominal_hz = tape.nominal_hz;
    }
    char *class = a->session.transport;
    if (status == ES_OK && a->deck && !class[0])
        memcpy(class, deck.transport, sizeof a->session.transport);
    return status;
}

static int run(const es_arguments *arguments)
{
    job j = {0};
    es_error error = {0};
    const char *about;
    if (es_trim_ask(arguments, &j.asked, &error) != ES_OK)
        return fail("trim", &error);
    es_ledger_use use = {j.asked.records, 0};
    int code;
    if (ask_records(&j, &error) != ES_OK) {
        es_ledger_close(j.ledger);
        return es_use_fail(&use, &error);
    }
    es_stop_watch(es_terminal_leave);
    if (begin(&j, &about, &error) != ES_OK) {
        code = fail(about, &error);
    } else {
        code = listen(&j);
        if (code == ES_EXIT_DONE)
            code = conclude(&j);
    }
    es_session_close(j.session);
    es_ledger_close(j.ledger);
    es_text_file_drop(j.file);
    return es_end_of_output(code);
}

static const char *const details[] = {
    "Listens to a deck that plays a test tone while you turn its speed trimmer, and says in one "
    "sentence what to do next: which way, how far of your last turn, when to stop. It learns "
    "which way is faster from your first turn.",
    "On a terminal it is one screen; elsewhere plain lines, or JSON lines with --json. When it "
    "ends, with q, Ctrl-C or by itself, it leaves what was found, the turns and what was left; "
    "with --json that goes to standard error.",
    "With --adjust azimuth it listens to both channels and reads how much later the right one is: "
    "play the broadband section of a test tape, or a tone recorded alike in both. A tone alone "
    "leaves "
    "it open whether the delay is a whole turn off; it then says so. --adjust level and --adjust "
    "balance read the playback levels of a reference tone.",
    "Keys with a rehearsal deck: left and right (or , and .) turn its trimmer, or its azimuth "
    "screw, by a hundredth of a "
    "turn, down and up (or < and >) by a tenth, clockwise being right and up. With every source: "
    "s chooses the next sound, q ends.",
    "A device that vanishes is waited for; what is recorded until then is safe. A recording that "
    "can't go on, because the disk is full for example, is told once; listening goes on, and the "
    "program ends with 4.",
    "With the covers off, mains can be within reach of the trimmer, with the deck switched off "
    "too. "
    "Insulated tool, one hand, small turns; where the rules ask for a licensed person, or you are "
    "unsure, stop and have one do this.",
    NULL};

static const char *const examples[] = {
    "evenspool trim --source rehearse:touchy-trimmer",
    "Practice, without any deck.",
    "evenspool trim --source device: --tape-error 0.4 --tape-u95 0.05",
    "The preferred input, with a tape recorded on a deck 0.4 per cent fast.",
    "evenspool trim --source device: --tape T1 --deck Workshop --asked \"runs slow\"",
    "Tape and deck as the records know them; the job is kept.",
    "evenspool trim --adjust azimuth --source rehearse:leaning-head",
    "Practise on a head that leans.",
    "evenspool trim --adjust azimuth --source device: --deck Workshop",
    "The job with the head is kept as well, in microseconds.",
    "evenspool trim --source device:line --record side-a.flac --sound guide",
    "By ear, and with the raw capture kept.",
    NULL};

const es_verb es_verb_trim = {.name = "trim",
                              .about = "coach the hand on a trimmer or azimuth screw, live",
                              .operands = "",
                              .operand_kind = "",
                              .options = es_trim_options,
                              .option_count = ES_TRIM_OPTIONS,
                              .details = details,
                              .examples = examples,
                              .run = run};
