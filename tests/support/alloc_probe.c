#include "alloc_probe.h"

#include <stdlib.h>

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *at, size_t size);
void __real_free(void *at);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *at, size_t size);
void __wrap_free(void *at);

static long calls, live, allowed_calls = -1;

void alloc_probe_reset(void)
{
    calls = live = 0;
    allowed_calls = -1;
}

void alloc_probe_fail_after(long allowed)
{
    alloc_probe_reset();
    allowed_calls = allowed;
}

long alloc_probe_calls(void)
{
    return calls;
}

long alloc_probe_live(void)
{
    return live;
}

static int refused(void)
{
    calls++;
    return allowed_calls >= 0 && calls > allowed_calls;
}

void *__wrap_malloc(size_t size)
{
    void *at = refused() ? NULL : __real_malloc(size);
    live += at != NULL;
    return at;
}

void *__wrap_calloc(size_t count, size_t size)
{
    void *at = refused() ? NULL : __real_calloc(count, size);
    live += at != NULL;
    return at;
}

void *__wrap_realloc(void *at, size_t size)
{
    if (refused())
        return NULL;
    void *moved = __real_realloc(at, size);
    live += moved && !at;
    return moved;
}

void __wrap_free(void *at)
{
    live -= at != NULL;
    __real_free(at);
}
