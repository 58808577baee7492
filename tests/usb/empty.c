/*
 * A client that does nothing with what it is sent: what the simulation itself costs. empty SECONDS
 */
#define _POSIX_C_SOURCE 200809L
#include <libusb.h>

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { TRANSFERS = 32, BYTES = 16384, VENDOR = 0x1209, PRODUCT = 0x0042, START = 2 };

static unsigned long came;

static void LIBUSB_CALL again(struct libusb_transfer *t)
{
    if (t->status != LIBUSB_TRANSFER_COMPLETED)
        return;
    came += (unsigned long)t->actual_length;
    libusb_submit_transfer(t);
}

int main(int argc, char **argv)
{
    static unsigned char  room[TRANSFERS][BYTES];
    unsigned char         wanted[8] = { 7, 0, 0, 0, 0xa0, 0x86, 1, 0 };
    libusb_device_handle *h;
    time_t                until = time(NULL) + (argc > 1 ? atol(argv[1]) : 1);

    if (libusb_init(NULL) != 0 || !(h = libusb_open_device_with_vid_pid(NULL, VENDOR, PRODUCT)) || libusb_claim_interface(h, 0) != 0 ||
        libusb_control_transfer(h, LIBUSB_REQUEST_TYPE_VENDOR | LIBUSB_RECIPIENT_INTERFACE, START, 0, 0, wanted, sizeof wanted, 1000) < 0)
        return 1;
    for (unsigned k = 0; k < TRANSFERS; k++) {
        struct libusb_transfer *t = libusb_alloc_transfer(0);

        libusb_fill_bulk_transfer(t, h, 0x81, room[k], BYTES, again, NULL, 0);
        if (libusb_submit_transfer(t) != 0)
            return 1;
    }
    while (time(NULL) <= until) {
        struct timeval wait = { .tv_usec = 100000 };

        libusb_handle_events_timeout_completed(NULL, &wait, NULL);
    }
    fprintf(stderr, "%lu bytes\n", came);
    _Exit(0);
}
