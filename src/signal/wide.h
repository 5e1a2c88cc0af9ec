/*
 * WIDE functions are compiled twice, for the plain machine and for one with wider vectors; which one
 * runs is settled when the program is loaded. Their arithmetic is written so that both give the same bits.
 * Only where the compiler can do it, and not under the sanitizers, which start too late for it.
 */
#ifndef ES_SIGNAL_WIDE_H
#define ES_SIGNAL_WIDE_H

#if defined(__x86_64__) && defined(__linux__) && defined(__GNUC__) && !defined(__clang__) &&       \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define WIDE __attribute__((target_clones("avx2", "default")))
#else
#define WIDE
#endif

#endif
