/* The place where the server listens, and the names under which it can be reached. */
#ifndef ES_SERVE_LISTEN_H
#define ES_SERVE_LISTEN_H

#include "evenspool/base/error.h"

#include <stddef.h>

/*
 * A listening socket on 127.0.0.1, or with lan on all IPv4 networks of this computer; port 0: one
 * that is free. *out and *port_got tell the socket and its port; *out is -1 on error.
 * ES_ERR_ARG "bad-port"; ES_ERR_IO "port-taken", "port-refused".
 */
es_status es_listen(int port, int lan, int *out, int *port_got, es_error *error);

/* This computer's address in its network, the likeliest one; 0: it is in none. */
int es_listen_network_address(char *out, size_t room);

/* The address of this end (local 1) or of the other end of a connection; "" when not known. */
void es_listen_end_of(int socket, int local, char *out, size_t room);

#endif
