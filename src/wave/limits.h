/* What a capture may be like; the same limits as those of the check (task/check.h). */
#ifndef ES_WAVE_LIMITS_H
#define ES_WAVE_LIMITS_H

#define ES_WAVE_RATE_MIN_HZ 8000
#define ES_WAVE_RATE_MAX_HZ 384000
#define ES_WAVE_CHANNELS_MOST 64

#endif
