/*
 * The gate: is the trimmer the right cure, or would it hide a fault?
 *
 *   in      the measured figures of one capture (speed, flutter, components, tone) and limits
 *   out     a verdict with its reasons, each a code and one sentence for the bench
 *   rule    look-first when anything speaks for a fault or the figures can't carry a decision;
 *           leave when the error and its uncertainty both fit inside the tolerance; else adjust
 *   rt      never allocates
 */
#ifndef ES_TASK_GATE_H
#define ES_TASK_GATE_H

#include "evenspool/base/check_result.h"

/* Each limit: source beside its default in gate.c. Percent as in the record. */
typedef struct es_gate_limits {
    double tolerance_percent;     /* |error| + u95 inside: nothing to do               */
    double u95_percent;           /* a decision needs an uncertainty no larger         */
    double drift_percent_per_min; /* larger drift is a fault, not a setting            */
    double spread_percent;        /* start against end of the capture                  */
    double flutter_percent;       /* weighted, two-sigma                               */
    double component_percent;     /* one component's peak, unweighted                  */
    double range_percent;         /* an error beyond what trimmers usually cover       */
    double snr_db;                /* tone over noise, at least                         */
    double dropouts_per_min;
    double duration_s; /* good tone, at least                               */
    /* the tone was not named, and another test tone would mean an error smaller than this */
    double tone_doubt_percent;
} es_gate_limits;

es_gate_limits es_gate_defaults(void);

/* Fills result->gate from the rest of *result. good_s: seconds of good, steady tone. */
void es_gate_judge(const es_gate_limits *limits, double good_s, es_check_result *result);

#endif
