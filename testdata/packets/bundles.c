/* Sends one packet that oscsend can't: a bundle, a blob or a time tag. Usage: bundles PORT WHAT */

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <lo/lo.h>

static lo_message number(float value)
{
    lo_message message = lo_message_new();
    lo_message_add_float(message, value);
    return message;
}

static lo_blob counting(int size)
{
    uint8_t *bytes = malloc(size);
    for (int i = 0; i < size; i++)
        bytes[i] = i % 251;
    lo_blob blob = lo_blob_new(size, bytes);
    free(bytes);
    return blob;
}

int main(int argc, char **argv)
{
    if (argc != 3)
        return 2;
    lo_address desk = lo_address_new("127.0.0.1", argv[1]);
    const char *what = argv[2];
    lo_timetag tag = {0xee5ba280, 0x80000000}; /* seconds since 1900, and half a second */
    lo_timetag later = {0x00000010, 0x40000000}; /* after the wrap of 2036 */
    lo_message message = lo_message_new();

    if (!strcmp(what, "blobs")) { /* of 1 to 5 bytes, so with 3, 2, 1, 0 and 3 bytes of padding */
        for (int size = 1; size <= 5; size++)
            lo_message_add_blob(message, counting(size));
        return lo_send_message(desk, "/meter/blob", message) < 0;
    }
    if (!strcmp(what, "long-blob")) {
        lo_message_add_blob(message, counting(5001));
        return lo_send_message(desk, "/meter/blob", message) < 0;
    }
    if (!strcmp(what, "timetags")) {
        lo_message_add_timetag(message, LO_TT_IMMEDIATE);
        lo_message_add_timetag(message, tag);
        lo_message_add_timetag(message, later);
        return lo_send_message(desk, "/clock", message) < 0;
    }
    if (!strcmp(what, "at-once")) {
        lo_bundle bundle = lo_bundle_new(LO_TT_IMMEDIATE);
        lo_bundle_add_message(bundle, "/in/1/fader", number(0.75f));
        lo_bundle_add_message(bundle, "/in/2/fader", number(0.5f));
        return lo_send_bundle(desk, bundle) < 0;
    }
    if (!strcmp(what, "nested")) {
        lo_bundle innermost = lo_bundle_new(later);
        lo_bundle_add_message(innermost, "/in/3/fader", number(0.25f));
        lo_bundle inner = lo_bundle_new(tag);
        lo_bundle_add_message(inner, "/in/2/fader", number(0.5f));
        lo_bundle_add_bundle(inner, innermost);
        lo_bundle outer = lo_bundle_new(LO_TT_IMMEDIATE);
        lo_bundle_add_message(outer, "/in/1/fader", number(0.75f));
        lo_bundle_add_bundle(outer, inner);
        lo_bundle_add_message(outer, "/in/4/mute", message);
        return lo_send_bundle(desk, outer) < 0;
    }
    if (!strcmp(what, "empty")) {
        return lo_send_bundle(desk, lo_bundle_new(tag)) < 0;
    }
    fprintf(stderr, "unknown: %s\n", what);
    return 2;
}
