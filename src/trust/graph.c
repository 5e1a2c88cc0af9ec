#include "trust/ordering.h"

#include <stdlib.h>

static int by_number(const void *a, const void *b)
{
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

/* Sorts each node's neighbours and drops the repeats, closing the gaps. */
static void tidy(es_graph *g)
{
    size_t kept = 0;
    for (size_t i = 0; i < g->nodes; i++) {
        size_t from = g->start[i], until = g->start[i + 1];
        if (until - from > 1)
            qsort(g->neighbour + from, until - from, sizeof *g->neighbour, by_number);
        g->start[i] = kept;
        for (size_t k = from; k < until; k++)
            if (k == from || g->neighbour[k] != g->neighbour[k - 1])
                g->neighbour[kept++] = g->neighbour[k];
    }
    g->start[g->nodes] = kept;
}

static void fill(es_graph *g, const uint32_t *ends, size_t edges)
{
    for (size_t e = 0; e < edges; e++)
        if (ends[2 * e] != ends[2 * e + 1]) {
            g->start[ends[2 * e] + 1]++;
            g->start[ends[2 * e + 1] + 1]++;
        }
    for (size_t i = 0; i < g->nodes; i++)
        g->start[i + 1] += g->start[i];
    for (size_t e = edges; e-- > 0;)
        if (ends[2 * e] != ends[2 * e + 1]) {
            g->neighbour[--g->start[ends[2 * e] + 1]] = ends[2 * e + 1];
            g->neighbour[--g->start[ends[2 * e + 1] + 1]] = ends[2 * e];
        }
    /* every count now points at its own first place: start[i + 1] is where node i begins */
    for (size_t i = 0; i < g->nodes; i++)
        g->start[i] = g->start[i + 1];
}

es_status es_graph_create(size_t nodes, const uint32_t *ends, size_t edges, es_graph *out)
{
    size_t total = 0;
    for (size_t e = 0; e < edges; e++)
        total += ends[2 * e] != ends[2 * e + 1] ? 2 : 0;
    *out = (es_graph){.nodes = nodes};
    out->start = calloc(nodes + 1, sizeof *out->start);
    out->neighbour = malloc((total + 1) * sizeof *out->neighbour);
    if (!out->start || !out->neighbour) {
        es_graph_clear(out);
        return ES_ERR_NOMEM;
    }
    fill(out, ends, edges);
    out->start[nodes] = total;
    tidy(out);
    return ES_OK;
}

void es_graph_clear(es_graph *graph)
{
    free(graph->start);
    free(graph->neighbour);
    *graph = (es_graph){0};
}
