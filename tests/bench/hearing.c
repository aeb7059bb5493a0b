/* The least that hearing can cost here, and those who send: a reader that looks at what a listener must look at,
 * a sender of packets that are laid out in a file, and one of rubbish. Loopback only.
 *
 *     hearing drain GROUPS PORT                       counts until a datagram of one octet, and prints us of
 *                                                     processor time a packet, packets, missing ones, drops
 *     hearing send FILE LENGTH SEQUENCE_AT WAY ADDRESS PORT HZ SECONDS PER_CALL
 *                                                     WAY groups or one; prints how many were sent
 *     hearing rubbish FILE LENGTH PORT COUNT A_SECOND sends the file's datagrams again and again
 */
#define _GNU_SOURCE
#include <arpa/inet.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#ifndef SO_TIMESTAMPNS
#define SO_TIMESTAMPNS 35
#endif
#ifndef SO_RXQ_OVFL
#define SO_RXQ_OVFL 40
#endif

enum { BATCH = 256, ROW = 2048, BUFFER = 16 << 20, UNIVERSES = 65536, GROUPS_OF_A_SOCKET = 20, LOOPBACK_INDEX = 1,
       MESSAGES = 1024, SEQUENCE_AT = 111, UNIVERSE_AT = 113, HEADER = 126 };

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

static void wait_until(double moment_s) {
    struct timespec moment = {(time_t) moment_s, (long) ((moment_s - (time_t) moment_s) * 1e9)};
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &moment, NULL);
}

static in_addr_t group(int number) {
    return htonl((239u << 24) | (255u << 16) | (unsigned) (number + 1));
}

static void drain(int groups, int port) {
    static unsigned char into[BATCH][ROW], control[BATCH][128];
    static struct mmsghdr heard[BATCH];
    static struct iovec parts[BATCH];
    static short last[UNIVERSES];
    int fd = socket(AF_INET, SOCK_DGRAM, 0), size = BUFFER, on = 1, holder = -1;
    long count = 0, missing = 0, drops = 0;
    double newest_s = 0;
    if (setsockopt(fd, SOL_SOCKET, SO_RCVBUFFORCE, &size, sizeof size))
        setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &size, sizeof size);
    setsockopt(fd, SOL_SOCKET, SO_TIMESTAMPNS, &on, sizeof on);
    setsockopt(fd, SOL_SOCKET, SO_RXQ_OVFL, &on, sizeof on);
    struct sockaddr_in name = {.sin_family = AF_INET, .sin_port = htons(port)};
    check(!bind(fd, (struct sockaddr *) &name, sizeof name), "bind");
    for (int i = 0; i < groups; i++) {
        if (i % GROUPS_OF_A_SOCKET == 0) check((holder = socket(AF_INET, SOCK_DGRAM, 0)) >= 0, "socket");
        struct ip_mreqn request = {.imr_multiaddr.s_addr = group(i), .imr_ifindex = LOOPBACK_INDEX};
        check(!setsockopt(holder, IPPROTO_IP, IP_ADD_MEMBERSHIP, &request, sizeof request), "join");
    }
    memset(last, -1, sizeof last);
    printf("ready\n");
    fflush(stdout);
    for (;;) {
        for (int i = 0; i < BATCH; i++) {
            parts[i] = (struct iovec) {into[i], ROW};
            heard[i].msg_hdr = (struct msghdr) {.msg_iov = &parts[i], .msg_iovlen = 1, .msg_control = control[i],
                                                .msg_controllen = sizeof control[i]};
        }
        int got = recvmmsg(fd, heard, BATCH, MSG_WAITFORONE, NULL);
        check(got > 0, "recvmmsg");
        for (int i = 0; i < got; i++) {
            unsigned char *packet = into[i];
            if (heard[i].msg_len == 1) {
                printf("%f %ld %ld %ld\n", seconds(CLOCK_PROCESS_CPUTIME_ID) / (count ? count : 1) * 1e6, count,
                       missing, drops);
                return;
            }
            for (struct cmsghdr *each = CMSG_FIRSTHDR(&heard[i].msg_hdr); each;
                 each = CMSG_NXTHDR(&heard[i].msg_hdr, each)) {
                if (each->cmsg_type == SO_TIMESTAMPNS) {
                    struct timespec *stamp = (void *) CMSG_DATA(each);
                    newest_s = stamp->tv_sec + stamp->tv_nsec / 1e9;
                } else if (each->cmsg_type == SO_RXQ_OVFL)
                    drops = *(unsigned *) CMSG_DATA(each);
            }
            if (heard[i].msg_len < HEADER || memcmp(packet + 4, "ASC-E1.17\0\0", 12)) continue;
            int universe = packet[UNIVERSE_AT] << 8 | packet[UNIVERSE_AT + 1], number = packet[SEQUENCE_AT];
            if (last[universe] >= 0) missing += (unsigned char) (number - last[universe] - 1);
            last[universe] = number;
            count += newest_s > 0;
        }
    }
}

static unsigned char *contents(const char *name, int length, int *rows) {
    FILE *file = fopen(name, "rb");
    check(file != NULL, name);
    fseek(file, 0, SEEK_END);
    *rows = ftell(file) / length;
    rewind(file);
    unsigned char *octets = malloc((size_t) *rows * length);
    check(fread(octets, length, *rows, file) == (size_t) *rows, name);
    fclose(file);
    return octets;
}

static int sending_socket(void) {
    int fd = socket(AF_INET, SOCK_DGRAM, 0), size = BUFFER;
    struct ip_mreqn by = {.imr_ifindex = LOOPBACK_INDEX};
    check(!setsockopt(fd, IPPROTO_IP, IP_MULTICAST_IF, &by, sizeof by), "IP_MULTICAST_IF");
    setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &size, sizeof size);
    return fd;
}

static struct mmsghdr *messages_of(unsigned char *packets, int rows, int length, const char *address, int port) {
    struct sockaddr_in *names = calloc(rows, sizeof *names);
    struct iovec *vectors = calloc(rows, sizeof *vectors);
    struct mmsghdr *messages = calloc(rows, sizeof *messages);
    for (int i = 0; i < rows; i++) {
        names[i] = (struct sockaddr_in) {AF_INET, htons(port), {address ? inet_addr(address) : group(i)}, {0}};
        vectors[i] = (struct iovec) {packets + (size_t) i * length, length};
        messages[i].msg_hdr = (struct msghdr) {&names[i], sizeof names[i], &vectors[i], 1, NULL, 0, 0};
    }
    return messages;
}

static void send_frames(char **words) {
    int rows, length = atoi(words[1]), at = atoi(words[2]), hz = atoi(words[6]), step = atoi(words[8]), frames = 0;
    unsigned char *packets = contents(words[0], length, &rows);
    const char *address = strcmp(words[3], "groups") ? words[4] : NULL;
    struct mmsghdr *messages = messages_of(packets, rows, length, address, atoi(words[5]));
    int fd = sending_socket();
    long sent = 0;
    double began_s = seconds(CLOCK_MONOTONIC), long_s = atof(words[7]);
    while (frames < long_s * hz) {
        /* Spread over ten milliseconds of the frame, as our engine does. */
        for (int first = 0; first < rows; first += step) {
            int count = rows - first < step ? rows - first : step;
            int went = sendmmsg(fd, messages + first, count, 0);
            check(went == count, "sendmmsg");
            sent += went;
            if (first + step < rows) wait_until(began_s + (double) frames / hz + 0.010 * (first + step) / rows);
        }
        for (int i = 0; i < rows; i++) {
            unsigned char *number = packets + (size_t) i * length + at;
            /* The low octet of a cycle of 1 to 255 where the file begins with 1: Art-Net. */
            *number = address && at == 12 ? *number % 255 + 1 : *number + 1;
        }
        wait_until(began_s + (double) ++frames / hz);
    }
    printf("%ld\n", sent);
}

static void send_rubbish(char **words) {
    int rows, length = atoi(words[1]), port = atoi(words[2]);
    long count = atol(words[3]), rate = atol(words[4]), sent = 0;
    unsigned char *packets = contents(words[0], length, &rows);
    struct mmsghdr *messages = messages_of(packets, rows, length, "127.0.0.1", port);
    int fd = sending_socket();
    double began_s = seconds(CLOCK_MONOTONIC);
    while (sent < count) {
        int first = sent % rows, step = rows - first < 64 ? rows - first : 64;
        if (count - sent < step) step = count - sent;
        int went = sendmmsg(fd, messages + first, step, 0);
        check(went > 0, "sendmmsg");
        sent += went;
        wait_until(began_s + (double) sent / rate);
    }
    printf("%ld\n", sent);
}

int main(int count, char **words) {
    if (count == 4 && !strcmp(words[1], "drain"))
        drain(atoi(words[2]), atoi(words[3]));
    else if (count == 11 && !strcmp(words[1], "send"))
        send_frames(words + 2);
    else if (count == 7 && !strcmp(words[1], "rubbish"))
        send_rubbish(words + 2);
    else
        return 2;
}
