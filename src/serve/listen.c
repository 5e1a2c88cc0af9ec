#include "serve/listen.h"

#include <arpa/inet.h>
#include <errno.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <stdint.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define BACKLOG 64

static es_status refuse(int port, es_error *error)
{
    int why = errno;
    if (why == EADDRINUSE)
        return es_fail(
            error, ES_ERR_IO, "port-taken",
            "Port %d is taken by another program; choose one with --port, or --port 0 for any "
            "that is free.",
            port);
    return es_fail(error, ES_ERR_IO, "port-refused",
                   "Port %d can't be used (%s); choose another one with --port.", port,
                   strerror(why));
}

static int port_of(int fd)
{
    struct sockaddr_in at;
    socklen_t length = sizeof at;
    return getsockname(fd, (struct sockaddr *)&at, &length) == 0 ? (int)ntohs(at.sin_port) : -1;
}

es_status es_listen(int port, int lan, int *out, int *port_got, es_error *error)
{
    *out = -1;
    *port_got = 0;
    if (port < 0 || port > 65535)
        return es_fail(error, ES_ERR_ARG, "bad-port",
                       "There is no port %d; name one from 1 to 65535, or 0 for any that is free.",
                       port);
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0)
        return refuse(port, error);
    int on = 1; /* a port that the last run left a moment ago is not taken */
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    at.sin_addr.s_addr = htonl(lan ? INADDR_ANY : INADDR_LOOPBACK);
    if (bind(fd, (struct sockaddr *)&at, sizeof at) != 0 || listen(fd, BACKLOG) != 0) {
        es_status status = refuse(port, error);
        close(fd);
        return status;
    }
    *out = fd;
    *port_got = port_of(fd);
    return ES_OK;
}

/* How likely a phone in the same room can reach it: home networks first, 0: not at all. */
static int likelihood(const struct ifaddrs *at)
{
    if (!at->ifa_addr || at->ifa_addr->sa_family != AF_INET || !(at->ifa_flags & IFF_UP) ||
        (at->ifa_flags & (IFF_LOOPBACK | IFF_POINTOPOINT)))
        return 0;
    uint32_t ip = ntohl(((const struct sockaddr_in *)(const void *)at->ifa_addr)->sin_addr.s_addr);
    if (ip >> 16 == 0xc0a8) /* 192.168: RFC 1918, as most homes have it */
        return 4;
    if (ip >> 24 == 10)
        return 3;
    return ip >> 20 == 0xac1 ? 1 : 2; /* 172.16/12: often a network within this computer */
}

int es_listen_network_address(char *out, size_t room)
{
    struct ifaddrs *all;
    int best = 0;
    if (getifaddrs(&all) != 0)
        return 0;
    for (const struct ifaddrs *at = all; at; at = at->ifa_next) {
        int now = likelihood(at);
        const struct sockaddr_in *ip = (const struct sockaddr_in *)(const void *)at->ifa_addr;
        if (now > best && inet_ntop(AF_INET, &ip->sin_addr, out, (socklen_t)room))
            best = now;
    }
    freeifaddrs(all);
    return best > 0;
}

void es_listen_end_of(int socket, int local, char *out, size_t room)
{
    struct sockaddr_in at;
    socklen_t length = sizeof at;
    int failed = local ? getsockname(socket, (struct sockaddr *)&at, &length)
                       : getpeername(socket, (struct sockaddr *)&at, &length);
    if (failed || at.sin_family != AF_INET ||
        !inet_ntop(AF_INET, &at.sin_addr, out, (socklen_t)room))
        out[0] = '\0';
}
