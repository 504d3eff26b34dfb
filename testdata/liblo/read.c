/* Reads a whole desk with liblo, as a benchmark beside "deskhand read".
 *
 *   read PROTOCOL HOST PORT WINDOW ROUNDS <QUESTIONS
 *
 * PROTOCOL is udp or tcp. Each line of QUESTIONS is an address to ask, then the
 * addresses whose answers it brings, each followed by how many values those have:
 *
 *   /lane/1/out/level /lane/1/out/level 1
 *
 * As many questions as WINDOW says are under way at a time; one without all its answers
 * after 100 ms is asked again, 8 times at most. Each round opens its own sockets, and keeps
 * the values of every answer by its address. Prints the values that were read, and the
 * seconds and the seconds of processor time (user and system) that it took, for all rounds
 * together.
 */

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <lo/lo.h>
#include "clock.h"

enum { MAX_VALUES = 16, MAX_TRIES = 8, SLOTS = 1 << 15 };
static const double WAIT = 0.1; /* s */

typedef struct question {
    char *address;
    int answers;  /* that it brings */
    int missing;  /* of them, in this round */
    int tries;
    double sent;
} question;

/* An answer that is waited for, in a table by its address. */
typedef struct answer {
    char *address;
    int count; /* values */
    question *of;
    int round; /* in which it came last */
    char types[MAX_VALUES];
    lo_arg values[MAX_VALUES];
    char *texts[MAX_VALUES];
} answer;

static answer table[SLOTS];
static question **questions;
static int total;             /* questions */
static int settled, in_flight, this_round;
static long values_read;

/* The place of an address in the table: the one that holds it, or a free one. */
static answer *place(const char *address)
{
    unsigned hash = 2166136261u; /* FNV-1a */
    for (const char *c = address; *c; c++)
        hash = (hash ^ (unsigned char)*c) * 16777619u;
    unsigned i = hash % SLOTS;
    while (table[i].address && strcmp(table[i].address, address))
        i = (i + 1) % SLOTS;
    return &table[i];
}

static void load(FILE *from)
{
    char *line = NULL, *rest;
    size_t room = 0;
    while (getline(&line, &room, from) > 0) {
        question *q = calloc(1, sizeof *q);
        q->address = strdup(strtok_r(line, " \n", &rest));
        for (char *address; (address = strtok_r(NULL, " \n", &rest)); q->answers++) {
            answer *a = place(address);
            *a = (answer){.address = strdup(address), .count = atoi(strtok_r(NULL, " \n", &rest)), .of = q};
        }
        questions = realloc(questions, (total + 1) * sizeof *questions);
        questions[total++] = q;
    }
    free(line);
}

/* Keeps the values of an answer. */
static int heard(const char *path, const char *types, lo_arg **argv, int argc, lo_message message, void *user)
{
    answer *a = place(path);
    if (!a->address || argc < a->count || a->round == this_round)
        return 0;
    a->round = this_round;
    for (int i = 0; i < a->count && i < MAX_VALUES; i++) {
        a->types[i] = types[i];
        free(a->texts[i]);
        a->texts[i] = types[i] == 's' ? strdup(&argv[i]->s) : NULL;
        if (types[i] != 's')
            a->values[i] = *argv[i];
    }
    values_read += a->count;
    if (--a->of->missing == 0 && a->of->tries > 0) {
        in_flight--;
        settled++;
    }
    return 0;
}

static void ask(question *q, lo_address desk, lo_server socket)
{
    if (q->tries++ == 0)
        in_flight++;
    q->sent = now();
    lo_message message = lo_message_new();
    if (lo_send_message_from(desk, socket, q->address, message) < 0) {
        fprintf(stderr, "ask %s: %s\n", q->address, lo_address_errstr(desk));
        exit(1);
    }
    lo_message_free(message);
}

/* Asks again what has waited for too long, or gives it up. */
static void again(int asked, lo_address desk, lo_server socket)
{
    for (int i = 0; i < asked; i++) {
        question *q = questions[i];
        if (q->missing <= 0 || now() - q->sent < WAIT)
            continue;
        if (q->tries < MAX_TRIES) {
            ask(q, desk, socket);
            continue;
        }
        q->missing = 0;
        in_flight--;
        settled++;
    }
}

static void read_desk(int protocol, const char *host, const char *port, int window)
{
    lo_server socket = lo_server_new_with_proto(NULL, protocol, NULL);
    lo_address desk = lo_address_new_with_proto(protocol, host, port);
    if (!socket || !desk)
        exit(1);
    int room = 4 << 20; /* as Deskhand asks for */
    setsockopt(lo_server_get_socket_fd(socket), SOL_SOCKET, SO_RCVBUF, &room, sizeof room);
    lo_server_enable_coercion(socket, 0);
    lo_address_set_tcp_nodelay(desk, 1);
    lo_server_add_method(socket, NULL, NULL, heard, NULL);

    this_round++;
    settled = in_flight = 0;
    for (int i = 0; i < total; i++) {
        questions[i]->missing = questions[i]->answers;
        questions[i]->tries = 0;
    }
    for (int next = 0; settled < total;) {
        while (next < total && in_flight < window)
            ask(questions[next++], desk, socket);
        if (lo_server_recv_noblock(socket, (int)(WAIT * 1000)) == 0)
            again(next, desk, socket);
    }
    lo_address_free(desk);
    lo_server_free(socket);
}

int main(int argc, char **argv)
{
    if (argc != 6) {
        fprintf(stderr, "usage: read PROTOCOL HOST PORT WINDOW ROUNDS <QUESTIONS\n");
        return 2;
    }
    int protocol = strcmp(argv[1], "tcp") ? LO_UDP : LO_TCP;
    load(stdin);
    double began = now(), worked = processor_time();
    for (int round = 0; round < atoi(argv[5]); round++)
        read_desk(protocol, argv[2], argv[3], atoi(argv[4]));
    printf("%ld %.6f %.6f\n", values_read, now() - began, processor_time() - worked);
    return 0;
}
