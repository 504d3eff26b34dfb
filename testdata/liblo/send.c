/* Sends settings with liblo's lo_send, as fast as it goes, as a benchmark beside Deskhand.
 *
 *   send HOST PORT ROUNDS <SETTINGS
 *
 * Each line of SETTINGS is an address, a type (f, i or s) and a value. Prints the messages
 * that were sent, and the seconds and the seconds of processor time (user and system) that it
 * took, for all rounds together.
 */

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <lo/lo.h>
#include "clock.h"

typedef struct setting {
    char *address, *text;
    char type;
    float number;
    int whole;
} setting;

static setting *load(FILE *from, int *count)
{
    setting *all = NULL;
    char *line = NULL, *rest;
    size_t room = 0;
    for (*count = 0; getline(&line, &room, from) > 0; (*count)++) {
        all = realloc(all, (*count + 1) * sizeof *all);
        char *address = strtok_r(line, " \n", &rest), *type = strtok_r(NULL, " \n", &rest), *value = strtok_r(NULL, "\n", &rest);
        value = value ? value : "";
        all[*count] = (setting){strdup(address), strdup(value), *type, strtof(value, NULL), atoi(value)};
    }
    free(line);
    return all;
}

static int set(lo_address desk, const setting *s)
{
    switch (s->type) {
    case 'f': return lo_send(desk, s->address, "f", s->number);
    case 'i': return lo_send(desk, s->address, "i", s->whole);
    default: return lo_send(desk, s->address, "s", s->text);
    }
}

int main(int argc, char **argv)
{
    if (argc != 4) {
        fprintf(stderr, "usage: send HOST PORT ROUNDS <SETTINGS\n");
        return 2;
    }
    int count, rounds = atoi(argv[3]);
    setting *settings = load(stdin, &count);
    double began = now(), worked = processor_time();
    for (int round = 0; round < rounds; round++) {
        lo_address desk = lo_address_new(argv[1], argv[2]);
        for (int i = 0; i < count; i++) {
            if (set(desk, &settings[i]) < 0) {
                fprintf(stderr, "send %s: %s\n", settings[i].address, lo_address_errstr(desk));
                return 1;
            }
        }
        lo_address_free(desk);
    }
    printf("%ld %.6f %.6f\n", (long)count * rounds, now() - began, processor_time() - worked);
    return 0;
}
