/* The least that sending can cost here, and a reader that keeps up: the same kernel paths as the sender's, by
 * a program without an interpreter. Loopback only.
 *
 *     wire drain GROUPS ADDRESS PORT           prints its port, counts until a datagram of one octet; PORT 0 is
 *                                              any, and ADDRESS that of loopback where there are no groups
 *     wire send WAY UNIVERSES SECONDS HZ PORT  prints us of processor time a packet, and the packets sent;
 *                                              HZ 0 is flat out; WAY sendto, sendmmsg, offload, groups, or spread,
 *                                              which is offload with each piece at its moment within 10 ms
 *     wire wait SECONDS HZ PRIORITY            only waits, in real time where PRIORITY is above 0 and the system
 *                                              allows it; prints how late it was in us, of half, 90, 99 and 99.9 %
 *                                              and at most, the turns kept, and those that passed altogether
 */
#define _GNU_SOURCE
#include <arpa/inet.h>
#include <netinet/udp.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#ifndef UDP_SEGMENT
#define UDP_SEGMENT 103
#endif

static const double SPREAD_S = 0.010;
enum { LENGTH = 638, SLOTS_AT = 126, SEQUENCE_AT = 111, SEGMENTS = 64, MESSAGES = 1024, BUFFER = 64 << 20,
       GROUPS_OF_A_SOCKET = 20, LOOPBACK_INDEX = 1, WARM_FRAMES = 4 };

static unsigned char (*packets)[LENGTH], *slots;
static struct sockaddr_in *names;
static struct mmsghdr *messages;
static struct iovec *vectors;

static void check(int is_well, const char *what) {
    if (!is_well) {
        perror(what);
        exit(1);
    }
}

static double seconds(clockid_t clock) {
    struct timespec now;
    clock_gettime(clock, &now);
    return now.tv_sec + now.tv_nsec / 1e9;
}

static in_addr_t group(int number) {
    return htonl((239u << 24) | (255u << 16) | (unsigned) (number + 1));
}

static void join(int groups) {
    int holder = -1;
    for (int i = 0; i < groups; i++) {
        if (i % GROUPS_OF_A_SOCKET == 0) check((holder = socket(AF_INET, SOCK_DGRAM, 0)) >= 0, "socket");
        struct ip_mreqn request = {.imr_multiaddr.s_addr = group(i), .imr_ifindex = LOOPBACK_INDEX};
        check(!setsockopt(holder, IPPROTO_IP, IP_ADD_MEMBERSHIP, &request, sizeof request), "join");
    }
}

static void drain(int groups, const char *address, int port) {
    static unsigned char into[256][2048];
    static struct mmsghdr heard[256];
    static struct iovec parts[256];
    int fd = socket(AF_INET, SOCK_DGRAM, 0), size = BUFFER;
    if (setsockopt(fd, SOL_SOCKET, SO_RCVBUFFORCE, &size, sizeof size))
        setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &size, sizeof size);
    /* A socket bound to one address hears no group. */
    struct sockaddr_in name = {AF_INET, htons(port), {groups ? htonl(INADDR_ANY) : inet_addr(address)}, {0}};
    socklen_t length = sizeof name;
    check(!bind(fd, (struct sockaddr *) &name, length), "bind");
    join(groups);
    getsockname(fd, (struct sockaddr *) &name, &length);
    printf("%d\n", ntohs(name.sin_port));
    fflush(stdout);
    for (int i = 0; i < 256; i++) {
        parts[i] = (struct iovec) {into[i], sizeof into[i]};
        heard[i].msg_hdr = (struct msghdr) {.msg_iov = &parts[i], .msg_iovlen = 1};
    }
    for (long count = 0;;) {
        int got = recvmmsg(fd, heard, 256, MSG_WAITFORONE, NULL);
        check(got > 0, "recvmmsg");
        for (int i = 0; i < got; i++) {
            if (heard[i].msg_len == 1) {
                printf("%ld\n", count);
                return;
            }
            count++;
        }
    }
}

static void lay_out(int universes, int port, int is_groups) {
    packets = calloc(universes, LENGTH);
    slots = calloc(universes, 512);
    names = calloc(universes, sizeof *names);
    messages = calloc(universes, sizeof *messages);
    vectors = calloc(universes, sizeof *vectors);
    for (int i = 0; i < universes; i++) {
        names[i] = (struct sockaddr_in) {AF_INET, htons(port), {is_groups ? group(i) : htonl(INADDR_LOOPBACK)}, {0}};
        vectors[i] = (struct iovec) {packets[i], LENGTH};
        messages[i].msg_hdr = (struct msghdr) {&names[i], sizeof names[i], &vectors[i], 1, NULL, 0, 0};
    }
}

static void write_frame(int universes, int number) {
    memset(slots, number, (size_t) universes * 512);
    for (int i = 0; i < universes; i++) {
        memcpy(packets[i] + SLOTS_AT, slots + (size_t) i * 512, 512);
        packets[i][SEQUENCE_AT]++;
    }
}

static void send_cut(int fd, int first, int count) {
    char control[CMSG_SPACE(sizeof(unsigned short))] = {0};
    struct iovec part = {packets[first], (size_t) count * LENGTH};
    struct msghdr message = {&names[0], sizeof names[0], &part, 1, control, sizeof control, 0};
    struct cmsghdr *header = CMSG_FIRSTHDR(&message);
    header->cmsg_level = SOL_UDP;
    header->cmsg_type = UDP_SEGMENT;
    header->cmsg_len = CMSG_LEN(sizeof(unsigned short));
    *(unsigned short *) CMSG_DATA(header) = LENGTH;
    check(sendmsg(fd, &message, 0) == (ssize_t) count * LENGTH, "sendmsg");
}

static void wait_until(double moment_s) {
    struct timespec moment = {(time_t) moment_s, (long) ((moment_s - (time_t) moment_s) * 1e9)};
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &moment, NULL);
}

/* Pieces go one after the other over `over_s`, which may be none. */
static void send_frame(int fd, char way, int universes, double due_s, double over_s) {
    int step = way == 'o' ? SEGMENTS : way == 's' ? 1 : MESSAGES;
    for (int first = 0; first < universes; first += step) {
        int count = universes - first < step ? universes - first : step;
        if (over_s && first) wait_until(due_s + over_s * first / universes);
        if (way == 'o')
            send_cut(fd, first, count);
        else if (way == 's')
            check(sendto(fd, packets[first], LENGTH, 0, (void *) &names[first], sizeof *names) == LENGTH, "sendto");
        else
            check(sendmmsg(fd, messages + first, count, 0) == count, "sendmmsg");
    }
}

static void measure(const char *name, int universes, double long_s, int hz, int port) {
    char way = !strcmp(name, "offload") || !strcmp(name, "spread") ? 'o' : !strcmp(name, "sendto") ? 's' : 'm';
    int fd = socket(AF_INET, SOCK_DGRAM, 0), size = BUFFER, frames = 0, is_groups = !strcmp(name, "groups");
    double over_s = hz && !strcmp(name, "spread") ? SPREAD_S : 0;
    struct ip_mreqn by = {.imr_ifindex = LOOPBACK_INDEX};
    check(!setsockopt(fd, IPPROTO_IP, IP_MULTICAST_IF, &by, sizeof by), "IP_MULTICAST_IF");
    setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &size, sizeof size);
    lay_out(universes, port, is_groups);
    for (int i = 0; i < WARM_FRAMES; i++) {
        write_frame(universes, i);
        send_frame(fd, way, universes, 0, 0);
    }
    double began_s = seconds(CLOCK_MONOTONIC), used_s = seconds(CLOCK_PROCESS_CPUTIME_ID);
    while (seconds(CLOCK_MONOTONIC) < began_s + long_s) {
        write_frame(universes, frames + 1);
        send_frame(fd, way, universes, hz ? began_s + (double) frames / hz : 0, over_s);
        frames++;
        if (hz) wait_until(began_s + (double) frames / hz);
    }
    used_s = seconds(CLOCK_PROCESS_CPUTIME_ID) - used_s;
    printf("%f %ld\n", used_s / frames / universes * 1e6, (long) (frames + WARM_FRAMES) * universes);
}

static int by_size(const void *one, const void *other) {
    double more = *(const double *) one - *(const double *) other;
    return (more > 0) - (more < 0);
}

static void punctual(double long_s, double hz, int priority) {
    struct sched_param wanted = {.sched_priority = priority};
    if (priority) sched_setscheduler(0, SCHED_FIFO, &wanted);
    double *late_us = calloc((size_t) (long_s * hz) + 2, sizeof *late_us);
    static const double shares[] = {0.5, 0.9, 0.99, 0.999, 1};
    double began_s = seconds(CLOCK_MONOTONIC), due_s = began_s;
    int turns = 0, passed = 0;
    check(late_us != NULL, "calloc");
    for (; due_s < began_s + long_s; due_s += 1 / hz) {
        wait_until(due_s);
        double late_s = seconds(CLOCK_MONOTONIC) - due_s;
        int whole = (int) (late_s * hz);
        late_us[turns++] = (late_s - whole / hz) * 1e6;
        passed += whole;
        if (whole) due_s += late_s;
    }
    qsort(late_us, turns, sizeof *late_us, by_size);
    for (int i = 0; i < 5; i++) printf("%.0f ", late_us[(int) (shares[i] * (turns - 1))]);
    printf("%d %d\n", turns, passed);
    free(late_us);
}

int main(int count, char **words) {
    if (count == 5 && !strcmp(words[1], "drain"))
        drain(atoi(words[2]), words[3], atoi(words[4]));
    else if (count == 7 && !strcmp(words[1], "send"))
        measure(words[2], atoi(words[3]), atof(words[4]), atoi(words[5]), atoi(words[6]));
    else if (count == 5 && !strcmp(words[1], "wait"))
        punctual(atof(words[2]), atof(words[3]), atoi(words[4]));
    else
        return 2;
}
