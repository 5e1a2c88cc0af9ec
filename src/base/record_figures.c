#include "evenspool/base/record_figures.h"

#include <math.h>

double *es_reading_error(es_reading_record *reading, es_adjust adjust)
{
    return adjust == ES_ADJUST_SPEED     ? &reading->error_percent
           : adjust == ES_ADJUST_AZIMUTH ? &reading->error_us
                                         : &reading->error_db;
}

double *es_reading_u95(es_reading_record *reading, es_adjust adjust)
{
    return adjust == ES_ADJUST_SPEED     ? &reading->u95_percent
           : adjust == ES_ADJUST_AZIMUTH ? &reading->u95_us
                                         : &reading->u95_db;
}

double *es_nudge_size(es_nudge_record *nudge, es_adjust adjust)
{
    return adjust == ES_ADJUST_SPEED     ? &nudge->size_percent
           : adjust == ES_ADJUST_AZIMUTH ? &nudge->size_us
                                         : &nudge->size_db;
}

es_adjust es_job_adjust(const es_job_record *job)
{
    es_adjust adjust;
    (void)es_adjust_from_name(job->adjust, &adjust);
    return adjust;
}

es_adjust es_reading_adjust(const es_reading_record *reading)
{
    return !isnan(reading->error_us)   ? ES_ADJUST_AZIMUTH
           : !isnan(reading->error_db) ? ES_ADJUST_LEVEL
                                       : ES_ADJUST_SPEED;
}
