#include "trust/ordering.h"

#include <stdlib.h>
#include <string.h>

#define NONE UINT32_MAX

/* The core begins where the smallest degree passes 1 / CORE_SHARE of what is left. */
#define CORE_SHARE 6

/*
 * The quotient graph. A living node has elements (eliminated nodes that stand for the clique
 * they left behind) and plain neighbours, both in its own slot: elements first. Each elimination
 * adds at most one element where it takes at least one entry away, so the slot never overflows.
 * An element's members are the column of the factor, kept in one growing pool.
 */
typedef struct workshop {
    size_t nodes, left, done;
    size_t *slot;                  /* first entry of a node's slot                    */
    uint32_t *entry;               /* the slots                                       */
    uint32_t *elements, *plain;    /* how many of each a node has                     */
    uint32_t *degree;              /* upper bound of the number of living neighbours  */
    uint32_t *size;                /* of an element; 0: absorbed                      */
    uint32_t *length;              /* of an element when it was formed                */
    uint32_t *outside, *stamp;     /* element: members outside the newest; and when   */
    uint32_t *mark;                /* node: belongs to the newest element             */
    uint32_t *first, *next, *prev; /* nodes by degree                                 */
    size_t *column;                /* element's place in the pool                     */
    uint32_t *pool, *order;
    size_t pool_used, pool_room;
    char *gone;
} workshop;

/* --- lists of nodes by degree --------------------------------------------------------------- */

static void put_in(workshop *w, uint32_t v)
{
    uint32_t head = w->first[w->degree[v]];
    w->next[v] = head;
    w->prev[v] = NONE;
    if (head != NONE)
        w->prev[head] = v;
    w->first[w->degree[v]] = v;
}

static void take_out(workshop *w, uint32_t v)
{
    if (w->prev[v] != NONE)
        w->next[w->prev[v]] = w->next[v];
    else
        w->first[w->degree[v]] = w->next[v];
    if (w->next[v] != NONE)
        w->prev[w->next[v]] = w->prev[v];
}

/* --- life ---------------------------------------------------------------------------------- */

static void close_workshop(workshop *w)
{
    void *all[] = {w->slot,   w->entry,   w->elements, w->plain, w->degree, w->size,
                   w->length, w->outside, w->stamp,    w->mark,  w->first,  w->next,
                   w->prev,   w->column,  w->pool,     w->order, w->gone};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        free(all[i]);
}

static int open_workshop(workshop *w, const es_graph *g)
{
    size_t n = g->nodes;
    uint32_t **numbers[] = {&w->elements, &w->plain, &w->degree, &w->size, &w->length, &w->outside,
                            &w->stamp,    &w->mark,  &w->first,  &w->next, &w->prev,   &w->order};
    *w = (workshop){.nodes = n, .left = n, .pool_room = 4 * g->start[n] + 16};
    int ok = 1;
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        ok = ok && (*numbers[i] = calloc(n + 1, sizeof(uint32_t)));
    ok = ok && (w->slot = malloc((n + 1) * sizeof *w->slot));
    ok = ok && (w->entry = malloc((g->start[n] + 1) * sizeof *w->entry));
    ok = ok && (w->column = calloc(n + 1, sizeof *w->column));
    ok = ok && (w->pool = malloc(w->pool_room * sizeof *w->pool));
    ok = ok && (w->gone = calloc(n + 1, 1));
    if (!ok)
        return 0;
    memcpy(w->slot, g->start, (n + 1) * sizeof *w->slot);
    memcpy(w->entry, g->neighbour, g->start[n] * sizeof *w->entry);
    memset(w->first, 0xFF, (n + 1) * sizeof *w->first);
    for (size_t v = n; v-- > 0;) { /* backwards: of equals the first node comes first */
        w->plain[v] = w->degree[v] = (uint32_t)(g->start[v + 1] - g->start[v]);
        put_in(w, (uint32_t)v);
    }
    return 1;
}

/* --- one elimination ------------------------------------------------------------------------ */

static int make_room(workshop *w)
{
    if (w->pool_used + w->nodes <= w->pool_room)
        return 1;
    size_t room = 2 * w->pool_room + w->nodes;
    uint32_t *pool = realloc(w->pool, room * sizeof *pool);
    if (!pool)
        return 0;
    w->pool = pool;
    w->pool_room = room;
    return 1;
}

static void collect(workshop *w, const uint32_t *from, size_t count, uint32_t round)
{
    for (size_t i = 0; i < count; i++)
        if (!w->gone[from[i]] && w->mark[from[i]] != round) {
            w->mark[from[i]] = round;
            w->pool[w->pool_used++] = from[i];
        }
}

/* The new element: all living neighbours of p, through elements or directly. */
static void form_element(workshop *w, uint32_t p, uint32_t round)
{
    const uint32_t *slot = w->entry + w->slot[p];
    w->gone[p] = 1;
    w->column[p] = w->pool_used;
    for (size_t i = 0; i < w->elements[p]; i++) {
        collect(w, w->pool + w->column[slot[i]], w->size[slot[i]], round);
        w->size[slot[i]] = 0;
    }
    collect(w, slot + w->elements[p], w->plain[p], round);
    w->size[p] = w->length[p] = (uint32_t)(w->pool_used - w->column[p]);
}

/* For every element met by the new one's members: how many of its members lie outside. */
static void count_outside(workshop *w, uint32_t p, uint32_t round)
{
    for (size_t i = 0; i < w->length[p]; i++) {
        uint32_t v = w->pool[w->column[p] + i];
        const uint32_t *slot = w->entry + w->slot[v];
        for (size_t k = 0; k < w->elements[v]; k++) {
            uint32_t e = slot[k];
            if (w->stamp[e] != round) {
                w->stamp[e] = round;
                w->outside[e] = w->size[e];
            }
            if (w->size[e] > 0)
                w->outside[e]--;
        }
    }
}

/* Keeps of v's elements those not swallowed by p; returns the sum of their outside members. */
static size_t keep_elements(workshop *w, uint32_t v)
{
    uint32_t *slot = w->entry + w->slot[v];
    size_t kept = 0, outside = 0;
    for (size_t k = 0; k < w->elements[v]; k++)
        if (w->size[slot[k]] > 0 && w->outside[slot[k]] > 0) {
            outside += w->outside[slot[k]];
            slot[kept++] = slot[k];
        }
    w->elements[v] = (uint32_t)kept;
    return outside;
}

/* Keeps of v's plain neighbours those that p's element does not reach. */
static void keep_plain(workshop *w, uint32_t v, uint32_t *plain, uint32_t round)
{
    size_t kept = 0;
    for (size_t k = 0; k < w->plain[v]; k++)
        if (!w->gone[plain[k]] && w->mark[plain[k]] != round)
            plain[kept++] = plain[k];
    w->plain[v] = (uint32_t)kept;
}

/* Rewrites the slot of member v: absorbed elements and members of p go, p comes. */
static void renew(workshop *w, uint32_t v, uint32_t p, uint32_t round)
{
    uint32_t *slot = w->entry + w->slot[v], *plain = slot + w->elements[v];
    size_t outside = keep_elements(w, v);
    keep_plain(w, v, plain, round);
    memmove(slot + w->elements[v] + 1, plain, w->plain[v] * sizeof *plain);
    slot[w->elements[v]++] = p;

    size_t others = w->length[p] - 1, bound = others + outside + w->plain[v];
    if (bound > w->degree[v] + others)
        bound = w->degree[v] + others;
    if (bound > w->left - 1)
        bound = w->left - 1;
    w->degree[v] = (uint32_t)bound;
}

static void eliminate(workshop *w, uint32_t p, uint32_t round)
{
    take_out(w, p);
    form_element(w, p, round);
    w->order[w->done++] = p;
    w->left--;
    count_outside(w, p, round);
    for (size_t i = 0; i < w->length[p]; i++) {
        uint32_t v = w->pool[w->column[p] + i];
        take_out(w, v);
        renew(w, v, p, round);
        put_in(w, v);
    }
}

/* Eliminates until what is left is interwoven; 0: no memory. */
static int run(workshop *w)
{
    size_t lowest = 0;
    while (w->left > 0) {
        while (w->first[lowest] == NONE)
            lowest++;
        if (CORE_SHARE * lowest > w->left)
            return 1;
        if (!make_room(w))
            return 0;
        uint32_t p = w->first[lowest];
        eliminate(w, p, (uint32_t)(w->done + 1));
        if (lowest > w->length[p]) /* the degree was only a bound */
            lowest = w->length[p];
        lowest -= lowest > 0;
    }
    return 1;
}

/* --- result -------------------------------------------------------------------------------- */

static void place_nodes(const workshop *w, es_ordering *o)
{
    size_t at = w->done;
    for (size_t j = 0; j < w->done; j++)
        o->node[j] = w->order[j];
    for (size_t v = 0; v < w->nodes; v++)
        if (!w->gone[v])
            o->node[at++] = (uint32_t)v;
    for (size_t j = 0; j < w->nodes; j++)
        o->place[o->node[j]] = (uint32_t)j;
}

/* Columns from the pool, rows ascending: a bucket for every row, emptied in order. */
static void sort_columns(const workshop *w, es_ordering *o, size_t *bucket, uint32_t *column)
{
    for (size_t j = 0; j < o->sparse; j++) {
        uint32_t p = o->node[j];
        o->start[j + 1] = o->start[j] + w->length[p];
        for (size_t i = 0; i < w->length[p]; i++)
            bucket[o->place[w->pool[w->column[p] + i]] + 1]++;
    }
    for (size_t r = 0; r < o->nodes; r++)
        bucket[r + 1] += bucket[r];
    for (size_t j = o->sparse; j-- > 0;) {
        uint32_t p = o->node[j];
        for (size_t i = 0; i < w->length[p]; i++)
            column[--bucket[o->place[w->pool[w->column[p] + i]] + 1]] = (uint32_t)j;
    }
    /* bucket[r + 1] is now where row r begins */
    size_t total = o->start[o->sparse];
    for (size_t r = 0; r < o->nodes; r++) {
        size_t until = r + 1 < o->nodes ? bucket[r + 2] : total;
        for (size_t k = bucket[r + 1]; k < until; k++)
            o->row[o->start[column[k]]++] = (uint32_t)r;
    }
    for (size_t j = o->sparse; j > 0; j--)
        o->start[j] = o->start[j - 1];
    o->start[0] = 0;
}

static es_status publish(const workshop *w, es_ordering *o)
{
    size_t total = 0;
    for (size_t j = 0; j < w->done; j++)
        total += w->length[w->order[j]];
    *o = (es_ordering){.nodes = w->nodes, .sparse = w->done};
    o->place = malloc((w->nodes + 1) * sizeof *o->place);
    o->node = malloc((w->nodes + 1) * sizeof *o->node);
    o->start = calloc(w->done + 1, sizeof *o->start);
    o->row = malloc((total + 1) * sizeof *o->row);
    size_t *bucket = calloc(w->nodes + 2, sizeof *bucket);
    uint32_t *column = malloc((total + 1) * sizeof *column);
    int ok = o->place && o->node && o->start && o->row && bucket && column;
    if (ok) {
        place_nodes(w, o);
        sort_columns(w, o, bucket, column);
    } else {
        es_ordering_clear(o);
    }
    free(bucket);
    free(column);
    return ok ? ES_OK : ES_ERR_NOMEM;
}

es_status es_ordering_create(const es_graph *graph, es_ordering *out)
{
    workshop w;
    *out = (es_ordering){0};
    es_status status = ES_ERR_NOMEM;
    if (open_workshop(&w, graph) && run(&w))
        status = publish(&w, out);
    close_workshop(&w);
    return status;
}

void es_ordering_clear(es_ordering *ordering)
{
    free(ordering->place);
    free(ordering->node);
    free(ordering->start);
    free(ordering->row);
    *ordering = (es_ordering){0};
}
