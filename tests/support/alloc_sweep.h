/* Every allocation of a create function fails in turn. */
#ifndef ES_TESTS_ALLOC_SWEEP_H
#define ES_TESTS_ALLOC_SWEEP_H

#include "alloc_probe.h"
#include "cm.h"
#include "evenspool/base/status.h"

#define ALLOC_SWEEP_MOST 300 /* allocations: it never succeeds */

/*
 * `create` is a call that sets the pointer `made`: each time an allocation fails it says ES_ERR_NOMEM, makes
 * nothing and leaves nothing behind. In the end `made` is there, and `taken` says how many allocations that
 * took; the probe counts on from them.
 */
#define ALLOC_SWEEP(taken, create, made)                                                           \
    do {                                                                                           \
        es_status swept_ = ES_ERR_NOMEM;                                                           \
        for ((taken) = 0; alloc_probe_fail_after(taken), (swept_ = (create)) != ES_OK;             \
             (taken)++) {                                                                          \
            assert_int_equal(swept_, ES_ERR_NOMEM);                                                \
            assert_null(made);                                                                     \
            assert_int_equal(alloc_probe_live(), 0);                                               \
            assert_true((taken) < ALLOC_SWEEP_MOST);                                               \
        }                                                                                          \
    } while (0)

#endif
