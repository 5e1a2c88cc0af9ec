/*
 * Order of elimination for a sparse symmetric matrix, and what the elimination leaves behind.
 *
 *   in      a graph: which unknowns stand together in an observation
 *   out     first `sparse` unknowns that are eliminated one by one, each with the later unknowns
 *           that its column of the factor touches; then `core` unknowns so interwoven that they
 *           are treated as one dense matrix
 *   how     quotient graph, smallest approximate degree first (Amestoy, Davis and Duff, SIAM J.
 *           Matrix Anal. Appl. 17 (1996) 886-905, from memory), without supervariables; ends
 *           where the smallest degree passes a third of what is left
 *   thread  no shared state
 */
#ifndef ES_TRUST_ORDERING_H
#define ES_TRUST_ORDERING_H

#include "evenspool/base/status.h"

#include <stddef.h>
#include <stdint.h>

/* Neighbours of node i: neighbour[start[i] .. start[i + 1]); each edge both ways, no repeats. */
typedef struct es_graph {
    size_t nodes;
    size_t *start;       /* nodes + 1 */
    uint32_t *neighbour; /* start[nodes] */
} es_graph;

/*
 * Makes the graph of `edges` node pairs (2 * edges numbers); loops and repeats are dropped.
 * ES_ERR_NOMEM: *out is empty.
 */
es_status es_graph_create(size_t nodes, const uint32_t *ends, size_t edges, es_graph *out);
void es_graph_clear(es_graph *graph); /* a zeroed one is fine */

typedef struct es_ordering {
    size_t nodes, sparse;
    uint32_t *place; /* node -> place in the order; places from `sparse` on are the core */
    uint32_t *node;  /* place -> node                                                    */
    size_t *start;   /* sparse + 1: column at place j touches row[start[j] .. start[j + 1]) */
    uint32_t *row;   /* later places, ascending within a column                          */
} es_ordering;

/* ES_ERR_NOMEM: *out is empty. */
es_status es_ordering_create(const es_graph *graph, es_ordering *out);
void es_ordering_clear(es_ordering *ordering); /* a zeroed one is fine */

#endif
