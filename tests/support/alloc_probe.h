/*
 * Counts allocations and makes them fail on demand. Link with
 * -Wl,--wrap=malloc,--wrap=calloc,--wrap=realloc,--wrap=free (meson: alloc_wrap).
 */
#ifndef ES_TESTS_ALLOC_PROBE_H
#define ES_TESTS_ALLOC_PROBE_H

void alloc_probe_reset(void);              /* count from zero, never fail           */
void alloc_probe_fail_after(long allowed); /* count from zero; fail after `allowed` */
long alloc_probe_calls(void);              /* allocations asked for since           */
long alloc_probe_live(void);               /* blocks taken minus blocks freed since */

#endif
